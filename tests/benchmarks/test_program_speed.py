"""What the whole program costs: the chains' share of a sweep, help, a second worker, memory over a year."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

import pytest

import venue
from venue.contest import table
from venue.study import match_ups
from venue.study.replicate import forget_solved

from .side_by_side import report

pytestmark = pytest.mark.benchmark

PIER = "scenarios/pier.toml"


def seconds(*command: str) -> float:
    """Wall time of a command that must succeed."""
    began = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, capture_output=True)
    return time.perf_counter() - began


def test_contest_chains_take_under_a_tenth_of_a_sweep(monkeypatch: pytest.MonkeyPatch) -> None:
    spent = 0.0

    def timed(work):
        def inner(*arguments):
            nonlocal spent
            began = time.perf_counter()
            try:
                return work(*arguments)
            finally:
                spent += time.perf_counter() - began

        return inner

    monkeypatch.setattr(table.ContestTable, "__init__", timed(table.ContestTable.__init__))
    monkeypatch.setattr(match_ups.Unaided, "win", timed(match_ups.Unaided.win))
    forget_solved()
    began = time.perf_counter()
    result = venue.sweep(venue.load(PIER), strengths=[step / 4 for step in range(9)])
    share = spent / (time.perf_counter() - began)
    assert len(result.points) == 9
    report("contest chains, share of the README's sweep", share, "under 0.1")
    assert 0.0 < share < 0.1


def test_help_takes_under_one_and_a_half_times_the_import_of_click() -> None:
    pairs = [(seconds("-m", "venue", "--help"), seconds("-c", "import click")) for _ in range(11)]
    ratio = statistics.median(help_time / click_time for help_time, click_time in pairs)
    report("venue --help over python -c 'import click'", ratio, "under 1.5")
    assert ratio < 1.5


def test_two_workers_are_at_least_1_7_times_as_fast_as_one() -> None:
    sweep = ["-m", "venue", "sweep", PIER, "--strengths", "0:2:0.25", "--quiet", "--workers"]
    one, two = seconds(*sweep, "1"), seconds(*sweep, "2")
    report("the README's sweep with two workers, seconds", two, "under 60 on two cores")
    report("one worker over two", one / two, "at least 1.7")
    assert one / two >= 1.7
    assert two < 60.0


def test_a_year_of_the_pier_stays_under_400_mib() -> None:
    """Of this one process: what the system keeps of all children together would be that of the largest before it."""
    words = ["run", PIER, "--days", "365", "--replications", "1", "--workers", "1", "--no-store", "--quiet"]
    child = subprocess.Popen([sys.executable, "-m", "venue", *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    assert child.returncode == 0
    peak = used.ru_maxrss / 1024
    report("peak memory of a year at the pier, MiB", peak, "under 400")
    assert peak < 400
