"""Scenarios, results, stores and command lines that nobody should have written: told in a line, never a traceback.

    VENUE_FUZZ=20000 python -m pytest -m slow -n 0 tests/faults/test_fuzz.py -k scenarios

is a longer run by hand.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import venue
from tests.cli.building import SMALL
from tests.page.building import sweep_folder
from venue.cli.commands import SHORT
from venue.report.manifest import MANIFEST, Manifest
from venue.scenario.load import load

from .changes import HOSTILE, changed
from .judged import judged

pytestmark = pytest.mark.slow
EXAMPLES = int(os.environ.get("VENUE_FUZZ", "60"))
bounded = settings(
    max_examples=EXAMPLES, deadline=None, derandomize=EXAMPLES == 60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
RAW = tomllib.loads(SMALL)
QUICK = ("--no-store", "--replications", "1", "--days", "2", "--workers", "1")
OF_SCENARIOS = (("check", "--no-run"), ("check", "--json", "--no-run"), ("contest",), ("run", *QUICK))


def text_of(raw: Any) -> str:
    """A scenario as TOML; what TOML cannot hold as text."""

    def plain(item: Any) -> Any:
        if isinstance(item, dict):
            return {str(key): plain(value) for key, value in item.items() if value is not None}
        if isinstance(item, list | tuple):
            return [plain(value) for value in item if value is not None]
        return str(item) if isinstance(item, int) and abs(item) >= 2**63 else item

    return tomli_w.dumps(plain(raw)).encode("utf-8", errors="replace").decode()


@bounded
@given(raw=changed(RAW), words=st.sampled_from(OF_SCENARIOS))
def test_scenarios(tmp_path: Path, raw: Any, words: tuple[str, ...]) -> None:
    (tmp_path / "x.toml").write_text(text_of(raw), encoding="utf-8")
    judged((words[0], "x.toml", *words[1:]), tmp_path)


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sweep_folder(tmp_path_factory.mktemp("results") / "out")


@bounded
@given(data=st.data())
def test_results(tmp_path: Path, results: Path, data: st.DataObject) -> None:
    shutil.rmtree(tmp_path / "out", ignore_errors=True)
    shutil.copytree(results, tmp_path / "out")
    plain = data.draw(changed(json.loads((results / "result.json").read_text(encoding="utf-8"))))
    (tmp_path / "out" / "result.json").write_text(json.dumps(plain), encoding="utf-8")
    # Somebody who means harm signs the change.
    Manifest.of(tmp_path / "out", but=MANIFEST).write(tmp_path / "out")
    judged(("report", "out"), tmp_path)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("store")
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    venue.run(load(folder / "small.toml"), store=folder / "kept.sqlite", replications=1)
    return folder / "kept.sqlite"


COLUMNS = {
    "study": ("key", "kind", "venue", "source", "version", "began", "last", "wanted"), "member": ("name", "setting"),
    "setting": ("key", "strength", "scenario"), "replication": ("number", "result", "checksum"),
}  # fmt: skip


@bounded
@given(data=st.data())
def test_stores(tmp_path: Path, store: Path, data: st.DataObject) -> None:
    path = tmp_path / "kept.sqlite"
    for file in tmp_path.glob("kept.sqlite*"):
        file.unlink()
    shutil.copy(store, path)
    if data.draw(st.booleans()):
        content = bytearray(path.read_bytes())
        for _ in range(data.draw(st.integers(1, 20))):
            content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
        path.write_bytes(content[: data.draw(st.integers(len(content) // 2, len(content)))])
    else:
        table = data.draw(st.sampled_from(sorted(COLUMNS)))
        column = data.draw(st.sampled_from(COLUMNS[table]))
        kept = [item for item in HOSTILE if isinstance(item, str | float) and item != "\ud800"]
        value = data.draw(st.sampled_from([*kept, b"", b"\xff" * 100]))
        connection = sqlite3.connect(path)
        with connection:
            connection.execute(f"UPDATE OR IGNORE {table} SET {column} = ?", (value,))
        connection.close()
    for words in (("studies",), ("studies", "1")):
        judged((*words, "--store", "kept.sqlite"), tmp_path)


OPTIONS = ("--set", "--strengths", "--over", "--out", "--store", "--report", "--seed", "--days", "--keep", "--sure",
           "--json", "--full", "--precision", "--title", "--gap", "--workers", "--replications", "--only",
           "-h")  # fmt: skip
VALUES = ("", " ", "0", "-1", "1e999", "nan", "x", "a=b", "venue.name=x", "machines.nuts.price=1:9:1", "0:2:0.5",
          "a." * 300 + "a=1", "[" * 300, "\udcff", "\x1b[2J", "../x", "/dev/null", "/", "small.toml", "x" * 300,
          "credits_per_hour=1%", "95%", "\u202e")  # fmt: skip


@bounded
@given(command=st.sampled_from(sorted(SHORT)), words=st.lists(st.sampled_from([*OPTIONS, *VALUES]), max_size=6))
def test_command_lines(tmp_path: Path, command: str, words: list[str]) -> None:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    bound = ("--days", "2", "--replications", "1") if command in ("run", "sweep", "compare", "sensitivity") else ()
    judged((command, "small.toml", *words, *bound), tmp_path)


def test_control_a_traceback_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("venue.cli.main.cli.main", lambda *_args, **_more: 1 / 0)
    with pytest.raises(AssertionError, match="ZeroDivisionError"):
        judged(("check", "small.toml"), tmp_path)
