"""Tests of the exact contest chain, against closed forms, published values and a play-by-play sampler."""
