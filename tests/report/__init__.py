"""Tests of venue.report."""
