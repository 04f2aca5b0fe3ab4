"""Tests of venue.scenario."""
