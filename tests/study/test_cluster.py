"""Replications done by the workers of a cluster: the same bits, whoever dies, joins or is another program."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path

import pytest

import venue
from tests.checking import Disagrees
from venue.errors import FailedReplications, InputError, RunError
from venue.study import address as address_module
from venue.study import cluster as cluster_module
from venue.study.address import check_address
from venue.study.cluster import Cluster
from venue.study.observer import Observer
from venue.study.remote import carry_out, identity, sent
from venue.study.results import SweepResult
from venue.study.work import Deaths, SerialExecutor

from ..cli.building import process
from ..docs.blocks import ROOT
from .machines import LoopbackCluster, free_port
from .test_workers import carried_out, check_same, check_same_replications, small, works

STRENGTHS = (0.0, 1.0)


class Listener(Observer):
    """Hears what is said, and does something after so many replications."""

    def __init__(self, at: int = -1, act: object = None) -> None:
        self.said: list[str] = []
        self._at, self._act = at, act

    def noted(self, text: str) -> None:
        self.said.append(text)

    def done(self, done: int, total: int) -> None:
        if done == self._at and callable(self._act):
            self._act()


def swept(cluster: str | None = None, seed: int = 31, **more: object) -> SweepResult:
    return venue.sweep(
        small(), strengths=STRENGTHS, replications=6, seed=seed, rows=True, cluster=cluster, **more,  # type: ignore[arg-type]
    )  # fmt: skip


@cache
def here() -> SweepResult:
    """The sweep in this process."""
    return swept()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cluster")


@pytest.fixture(scope="module")
def pair(folder: Path) -> Iterator[LoopbackCluster]:
    """A scheduler with two workers."""
    with LoopbackCluster(folder) as cluster:
        cluster.join()
        cluster.join()
        yield cluster


# -- without a cluster ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("10.0.0.5:8786", "tcp://10.0.0.5:8786"),
        ("tls://hall-2.example:8786", "tls://hall-2.example:8786"),
        ("[::1]:1", "tcp://[::1]:1"),
    ],
)
def test_addresses(text: str, whole: str) -> None:
    assert check_address(text) == whole


@pytest.mark.parametrize(
    "text", ["", "hall", "hall:0", "hall:65536", "http://hall:80", "hall:8786/x", "a b:1", ":8786"]
)
def test_what_is_no_address(text: str) -> None:
    with pytest.raises(InputError, match="is not HOST:PORT with a port from 1 to 65535; write it like"):
        venue.run(small(), cluster=text)


def test_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(address_module, "find_spec", lambda name: None)
    with pytest.raises(InputError, match=r'install venue with its extra: pip install "venue\[cluster\]"'):
        venue.sweep(small(), cluster="127.0.0.1:8786")


def test_workers_or_a_cluster() -> None:
    with pytest.raises(InputError, match="a cluster has its own"):
        venue.run(small(), cluster="127.0.0.1:8786", workers=2)


def test_nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "_CONNECT", 0.5)
    with pytest.raises(InputError, match="no scheduler answers there within 0.5 s"):
        venue.run(small(), cluster=f"127.0.0.1:{free_port()}")


def test_somebody_else_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A service that takes calls and says nothing."""
    monkeypatch.setattr(cluster_module, "_CONNECT", 0.5)
    with (
        socket.create_server(("127.0.0.1", 0)) as silent,
        pytest.raises(InputError, match=r"no scheduler answers there within 0.5 s \(who answers says nothing\)"),
    ):
        venue.run(small(), cluster=f"127.0.0.1:{silent.getsockname()[1]}")


def test_nothing_of_it_is_imported_unless_asked_for() -> None:
    code = (
        "import sys, venue\n"
        f"venue.load({str(ROOT / 'scenarios' / 'pier.toml')!r})\n"
        "from venue.cli.main import main\n"
        "try:\n    main(['run', '--help'])\nexcept SystemExit:\n    pass\n"
        "import venue.api\n"
        "print('loaded:', [name for name in ('distributed', 'dask') if name in sys.modules])"
    )
    outcome = process(code=code)
    assert outcome.code == 0 and outcome.out.endswith("loaded: []\n")


def test_work_for_another_program_is_not_done() -> None:
    parcel = sent(works()[0])
    replication, failure, _ = carry_out(identity(), True, parcel)
    expected = carried_out(SerialExecutor(keep_rows=True), works()[:1])
    assert not failure and not isinstance(replication, str)
    check_same_replications(list(expected.values()), [replication])  # type: ignore[list-item]
    assert carry_out("another program", True, parcel) == identity()


def test_a_replication_that_kills_is_tried_three_times() -> None:
    deaths, work = Deaths(), works()[0]
    assert deaths.count(work) is None and deaths.count(works()[1]) is None and deaths.count(work) is None
    failed = deaths.count(work)
    assert failed is not None and "took its worker process down 3 times" in failed.failure


# -- with one ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_same_bits_as_here(pair: LoopbackCluster) -> None:
    listener = Listener()
    check_same(here(), swept(pair.address, progress=listener))
    assert [text for text in listener.said if "no worker" not in text] == []


@pytest.mark.slow
def test_control_another_seed(pair: LoopbackCluster) -> None:
    with pytest.raises(Disagrees):
        check_same(here(), swept(pair.address, seed=32))


@pytest.mark.slow
def test_a_worker_killed_in_the_middle(folder: Path) -> None:
    """SIGKILL, as when a machine goes: what it had is run again by the other, and nothing differs."""
    with LoopbackCluster(folder) as cluster:
        doomed = cluster.join()
        cluster.join()
        listener = Listener(3, lambda: doomed.send_signal(signal.SIGKILL))
        check_same(here(), swept(cluster.address, progress=listener))
        assert doomed.wait(timeout=10) == -signal.SIGKILL


@pytest.mark.slow
def test_all_killed_and_another_joins(folder: Path) -> None:
    with LoopbackCluster(folder) as cluster:
        doomed = cluster.join()

        def strike() -> None:
            doomed.send_signal(signal.SIGKILL)
            cluster.join()

        listener = Listener(3, strike)
        check_same(here(), swept(cluster.address, progress=listener))


@pytest.mark.slow
def test_what_is_stored_is_stored_here(pair: LoopbackCluster, tmp_path: Path) -> None:
    path = tmp_path / "kept.sqlite"
    first = venue.sweep(small(), strengths=STRENGTHS, replications=3, cluster=pair.address, store=path)
    again = venue.sweep(small(), strengths=STRENGTHS, replications=3, store=path, progress=never)
    assert first.to_dict() == again.to_dict()


def never(done: int, total: int) -> None:
    raise AssertionError("it was run")


def customized(folder: Path, text: str) -> dict[str, str]:
    """Surroundings in which a process begins with this piece of Python."""
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(text)
    return {"PYTHONPATH": os.pathsep.join([str(folder), str(ROOT)])}


@pytest.mark.slow
def test_another_version_gets_no_work(tmp_path: Path) -> None:
    tomorrow = customized(tmp_path / "tomorrow", "import venue\nvenue.__version__ = '9.9'\n")
    with LoopbackCluster(tmp_path) as cluster:
        cluster.join(**tomorrow)
        with pytest.raises(InputError, match=r"must run venue 0\..*, and has venue 9\.9 .*; install the same there"):
            swept(cluster.address)
        # One of today's joins, and does everything.
        cluster.join()
        said = ""
        while "gets no work" not in said:
            listener = Listener()
            with suppress(InputError):
                check_same(here(), swept(cluster.address, progress=listener))
                said = "".join(listener.said)
    with (
        LoopbackCluster(tmp_path, **tomorrow) as cluster,
        pytest.raises(InputError, match=r"the scheduler must run the same program, 0\..*; it has 9\.9 "),
    ):
        swept(cluster.address)


@pytest.mark.slow
def test_a_machine_that_rounds_otherwise_gets_no_work(tmp_path: Path) -> None:
    """The same program on a processor of another kind, as which linear algebra can be told to act."""
    with LoopbackCluster(tmp_path) as cluster:
        cluster.join(OPENBLAS_CORETYPE="Prescott")
        with pytest.raises(InputError, match="may give work to none of its workers .* rounding"):
            swept(cluster.address)


@pytest.mark.slow
def test_a_scheduler_without_workers_and_one_that_goes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "_WAIT", 1.5)
    with LoopbackCluster(folder) as cluster:
        with pytest.raises(RunError, match="has had no worker for 1.5 s; start some with: dask worker tcp://"):
            swept(cluster.address)
        monkeypatch.setattr(cluster_module, "_WAIT", 60.0)
        cluster.join()
        assert cluster.scheduler is not None
        gone = Listener(3, cluster.scheduler.kill)
        with pytest.raises(RunError, match="the scheduler is gone; start it again"):
            swept(cluster.address, progress=gone)


@pytest.mark.slow
def test_a_replication_that_kills_its_workers(tmp_path: Path) -> None:
    """The others are finished; the one is reported with its seed and the command that runs it alone."""
    deadly = customized(
        tmp_path / "deadly",
        "import os, signal\n"
        "from venue.study import replicate\n"
        "run = replicate.Bench.run\n"
        "def deadly(bench, scenario, number):\n"
        "    if number == 2 and scenario.study.strength == 1.0:\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    return run(bench, scenario, number)\n"
        "replicate.Bench.run = deadly\n",
    )
    with LoopbackCluster(tmp_path) as cluster:
        for _ in range(4):
            cluster.join(**deadly)
        seen: list[int] = []
        with pytest.raises(FailedReplications) as caught:
            swept(cluster.address, progress=lambda done, total: seen.append(done))
    assert max(seen) == 11
    (line,) = caught.value.lines
    assert line.startswith("replication 2 at strength 1, seed 31: took its worker process down 3 times")
    assert line.endswith("--strength 1 --seed 31 --days 3 --only 2")


@pytest.mark.slow
def test_ctrl_c_leaves_the_workers_as_they_were(pair: LoopbackCluster, tmp_path: Path) -> None:
    def stop(done: int, total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    path = tmp_path / "kept.sqlite"
    with pytest.raises(KeyboardInterrupt) as caught:
        venue.sweep(
            small(), strengths=STRENGTHS, replications=6, seed=31, cluster=pair.address, store=path, progress=stop
        )
    assert (caught.value.kept, caught.value.total) == (2, 12)  # type: ignore[attr-defined]
    assert all(worker.poll() is None for worker in pair.workers)
    whole = Cluster(pair.address, keep_rows=True)
    expected = carried_out(SerialExecutor(keep_rows=True), works())
    found = carried_out(whole, works())  # type: ignore[arg-type]
    check_same_replications(list(expected.values()), [found[key] for key in expected])


@pytest.mark.slow
def test_the_command(pair: LoopbackCluster, tmp_path: Path) -> None:
    (tmp_path / "small.toml").write_text(small().to_toml())
    words = ("sweep", "small.toml", "--strengths", "0,1", "--json")
    far = process(*words, "--cluster", pair.address, folder=tmp_path)
    near = process(*words, "--workers", "1", folder=tmp_path)
    assert (far.code, far.err) == (near.code, near.err) == (0, "")
    assert far.json == near.json


@pytest.mark.slow
def test_what_lies_behind_venues_is_run_there_too(pair: LoopbackCluster) -> None:
    lived_in = small().change(days=7, warm_up=0, before={"days": 14})
    here, there = (
        venue.sweep(lived_in, strengths=STRENGTHS, replications=3, rows=True, cluster=cluster)
        for cluster in (None, pair.address)
    )
    check_same(here, there)
