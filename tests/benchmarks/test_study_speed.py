"""What a study costs beyond its replications, and what common visitors save it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import venue
from venue.study.codec import checksum, packed
from venue.study.compare import variance_ratio
from venue.study.replicate import Task, forget_solved
from venue.study.store import Store

from ..floor.textbook import textbook
from ..study.machines import LoopbackCluster
from .side_by_side import report

pytestmark = pytest.mark.benchmark

PIER = "scenarios/pier.toml"
NEIGHBOURS = [step / 4 for step in range(9)]
KEPT = 10_000


def takes(seeds: list[int]) -> list[np.ndarray]:
    """Credits per open hour at each strength of the README's sweep, by replication; a seed a strength."""
    pier = venue.load(PIER)
    runs = [
        venue.run(pier, strength=strength, seed=seed, replications=20, workers=2)
        for strength, seed in zip(NEIGHBOURS, seeds, strict=True)
    ]
    return [np.array(run.point.values("credits_per_hour")) for run in runs]


def test_common_visitors_cut_the_variance_of_a_difference_at_least_5_times() -> None:
    """Between neighbouring strengths; the twin, every strength with visitors of its own, saves nothing."""
    common, apart = takes([1] * 9), takes(list(range(1, 10)))
    ratios = [variance_ratio(*pair) for pair in zip(common, common[1:], strict=False)]
    nothing = [variance_ratio(*pair) for pair in zip(apart, apart[1:], strict=False)]
    what = "variance of a difference, visitors of their own over common ones, least of 8 pairs of neighbours"
    report(what, min(ratios), "at least 5")
    report("the same, middle of the 8", float(np.median(ratios)), "for comparison")
    report("the twin: visitors of their own, middle of the 8", float(np.median(nothing)), "about 1")
    assert min(ratios) >= 5.0
    assert float(np.median(nothing)) < 2.0


def test_a_study_costs_under_3_percent_beyond_its_replications(tmp_path: Path) -> None:
    """Store, collection and choice of the README's sweep in one process; replications solve their contests."""
    forget_solved()
    began = time.perf_counter()
    result = venue.sweep(venue.load(PIER), strengths=NEIGHBOURS, store=tmp_path / "kept.sqlite")
    whole = time.perf_counter() - began
    inside = sum(replication.seconds for point in result.points for replication in point.replications)
    share = 1.0 - inside / whole
    report("a study beyond its replications, percent of its time", 100 * share, "under 3")
    assert 0.0 < share < 0.03


def seconds(*words: str) -> float:
    """Wall time of a command that must succeed."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "venue", *words], check=True, capture_output=True)
    return time.perf_counter() - began


def test_two_workers_are_at_least_1_8_times_as_fast_as_one() -> None:
    """A sweep of a minute or so, its start and its tables included; one process of its own against two."""
    sweep = ["sweep", PIER, "--strengths", "0:2:0.25", "--replications", "20", "--no-store", "--quiet", "--workers"]
    one, two = seconds(*sweep, "1"), seconds(*sweep, "2")
    report("one worker over two, 180 replications at the pier", one / two, "at least 1.8")
    assert one / two >= 1.8


def test_how_many_results_a_second_come_from_a_cluster(tmp_path: Path) -> None:
    """Replications of next to nothing, so that what is left is the way there and back; two workers on the loopback."""
    desk = textbook({"desk": {"price": 1, "count": 1, "play_time": "1 min"}}, 1.0)
    with LoopbackCluster(tmp_path) as pair:
        pair.join()
        pair.join()
        venue.run(desk, replications=20, cluster=pair.address)
        began, busy = time.perf_counter(), time.process_time()
        there = venue.run(desk, replications=1500, cluster=pair.address)
        spent, busy = time.perf_counter() - began, time.process_time() - busy
    inside = sum(replication.seconds for replication in there.point.replications)
    assert len(there.point.replications) == 1500
    report("results a second from two workers on the loopback", 1500 / spent, "for comparison")
    report("of that time, share in which a worker was at work", inside / spent / 2, "for comparison")
    report("processor time of the client for one result, milliseconds", 1000 * busy / 1500, "for comparison")


def test_the_store_takes_10_000_results_in_under_5_seconds(tmp_path: Path) -> None:
    """Each on disk before the next is begun; beside it SQLite alone, as careful, with the very same bytes."""
    loaded = venue.load(PIER, ["study.days=10", "study.warm_up=1"])
    one = venue.run(loaded, replications=1).point.replications[0]
    results = [replace(one, task=Task(1.0, number)) for number in range(KEPT)]
    store = Store(tmp_path / "kept.sqlite")
    store.begin("run", [("strength 1", loaded, None)], KEPT)
    began = time.perf_counter()
    for result in results:
        store.keep(loaded.scenario, result)
    spent = time.perf_counter() - began
    assert store.studies()[0].kept == KEPT
    store.close()
    blob, mark = packed(one), checksum("key", 0, packed(one))
    plain = sqlite3.connect(tmp_path / "plain.sqlite", isolation_level=None)
    plain.executescript(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
        "CREATE TABLE kept (setting INTEGER, number INTEGER, result BLOB, checksum BLOB, "
        "PRIMARY KEY (setting, number)) WITHOUT ROWID"
    )
    began = time.perf_counter()
    for number in range(KEPT):
        plain.execute("INSERT INTO kept VALUES (1, ?, ?, ?)", (number, blob, mark))
    alone = time.perf_counter() - began
    plain.close()
    report("seconds in which the store takes 10,000 results", spent, "under 5")
    report("the same over SQLite alone, as careful, with the same bytes", spent / alone, "for comparison")
    assert spent < 5.0
