"""Tests of venue.cli."""
