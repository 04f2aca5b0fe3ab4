"""The folder of results: whole or not there, nothing else touched, the same figures in every file."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
from pathlib import Path
from typing import Any

import matplotlib.figure
import numpy as np
import pandas as pd
import pytest

import venue
from venue.errors import InputError, RunError
from venue.report import study_tables, title_tables
from venue.report.charts.collection import folder_charts
from venue.report.folder import Folder
from venue.report.page.record import made
from venue.report.page.record import read as read_folder
from venue.scenario.load import load
from venue.study.results import RunResult, SweepResult

from .building import renamed, run_result, scenario, sweep_result

PEOPLE = {f"{name}.csv" for name in ("by_margin", "return_curve", "cohorts", "weeks", "moved_because")}
PEOPLE_CHARTS = {
    f"{name}.{kind}" for name in ("cohorts", "return-curve", "weeks", "by-margin") for kind in ("png", "svg")
}
SWEEP = (
    PEOPLE
    | {
        "manifest.json",
        "scenario.toml",
        "result.json",
        "numbers.csv",
        "measures.csv",
        "machines.csv",
        "left_because.csv",
        "by_hour.csv",
        "trade_off.csv",
    }
    | {
        f"{name}.{kind}"
        for name in ("credits-per-hour", "retention", "trade-off", "by-hour")
        for kind in ("png", "svg")
    }
)
RUN = {"manifest.json", "scenario.toml", "result.json", "numbers.csv", "measures.csv", "machines.csv",
       "left_because.csv", "accounts.csv", "by_hour.csv", "by-hour.png",
       "by-hour.svg"} | PEOPLE | PEOPLE_CHARTS  # fmt: skip
TITLE_TABLES = {"headline", "line_ups", "owed", "final_margin", "rule_by_rule", "coded_and_effective", "trailing_pays",
                "best_play",
                "moments", "numbers"}  # fmt: skip
TITLE_CHARTS = {"fairness", "final-margin", "chance-to-win", "effective-chance", "lead-safety", "rules"}
TITLE = {"manifest.json", "scenario.toml", "result.json", *(f"{name}.csv" for name in TITLE_TABLES),
         *(f"{name}.{form}" for name in TITLE_CHARTS for form in ("png", "svg"))}  # fmt: skip


def charts_of(result: Any) -> dict[str, matplotlib.figure.Figure]:
    return folder_charts(made(result.to_dict(), result.loaded, ()))


def write_sweep(path: Path, result: SweepResult, **how: Any) -> None:
    Folder(path, **how).write(result.to_dict(), result.loaded, study_tables.sweep_files(result), charts_of(result))


def write_run(path: Path, result: RunResult, **how: Any) -> None:
    Folder(path, **how).write(result.to_dict(), result.loaded, study_tables.run_files(result), charts_of(result))


def read(path: Path) -> pd.DataFrame:
    """A table with every figure to the last bit."""
    return pd.read_csv(path, float_precision="round_trip")


def names(path: Path) -> set[str]:
    return {file.name for file in path.iterdir()}


def test_files_of_a_sweep(tmp_path: Path) -> None:
    result = sweep_result()
    write_sweep(tmp_path / "a" / "b" / "out", result)
    out = tmp_path / "a" / "b" / "out"
    assert names(out) == SWEEP
    assert names(tmp_path / "a" / "b") == {"out"}
    assert load(out / "scenario.toml").scenario == result.loaded.scenario
    assert json.loads((out / "result.json").read_text(encoding="utf-8")) == json.loads(json.dumps(result.to_dict()))


def test_files_of_a_run(tmp_path: Path) -> None:
    result = run_result()
    write_run(tmp_path / "out", result)
    assert names(tmp_path / "out") == RUN
    assert json.loads((tmp_path / "out" / "result.json").read_text()) == json.loads(json.dumps(result.to_dict()))


def test_files_of_a_title(tmp_path: Path) -> None:
    result = venue.solve(scenario(), strengths=(0.0, 1.0))
    folder = Folder(tmp_path / "out")
    folder.write(result.to_dict(), result.loaded, title_tables.title_files(result), charts_of(result))
    assert names(tmp_path / "out") == TITLE
    headline = read(tmp_path / "out" / "headline.csv")
    assert list(headline["strength"]) == [0.0, 1.0]
    plain = json.loads((tmp_path / "out" / "result.json").read_text())
    assert list(headline["better_side_wins"]) == [point["better_side_wins"] for point in plain["points"]]


def test_figures_of_a_run_are_those_of_the_json(tmp_path: Path) -> None:
    write_run(tmp_path / "out", run_result())
    plain = json.loads((tmp_path / "out" / "result.json").read_text())
    measures = read(tmp_path / "out" / "measures.csv").set_index("measure")
    assert set(measures.index) == set(plain["measures"])
    machines = read(tmp_path / "out" / "machines.csv").set_index(["machine", "measure"])
    for name, item in plain["measures"].items():
        assert dict(measures.loc[name]) == item
    for machine in plain["machines"]:
        for name, item in machine["measures"].items():
            assert dict(machines.loc[(machine["name"], name)]) == item
    accounts = read(tmp_path / "out" / "accounts.csv")
    assert accounts.to_dict("records") == plain["accounts"]
    left = read(tmp_path / "out" / "left_because.csv").set_index("reason")["share_of_visits"]
    assert dict(left) == plain["left_because"]


def test_figures_of_a_sweep_are_those_of_the_json(tmp_path: Path) -> None:
    write_sweep(tmp_path / "out", sweep_result())
    plain = json.loads((tmp_path / "out" / "result.json").read_text())
    measures = read(tmp_path / "out" / "measures.csv").set_index(["strength", "measure"])
    for point in plain["points"]:
        for name, item in point["measures"].items():
            assert dict(measures.loc[(point["strength"], name)]) == item
    machines = read(tmp_path / "out" / "machines.csv")
    assert set(machines["machine"]) == {"ferry", "gulls"} and set(machines["strength"]) == {0.0, 0.5, 1.0, 1.5, 2.0}
    hours = read(tmp_path / "out" / "by_hour.csv")
    closed = ~hours["hour_of_day"].between(11, 20)
    assert np.array_equal(hours["credits_per_open_hour"].isna(), closed)


def test_what_people_did_is_that_of_the_json(tmp_path: Path) -> None:
    result = sweep_result()
    write_sweep(tmp_path / "out", result)
    plain = json.loads((tmp_path / "out" / "result.json").read_text())
    margins, weeks, cohorts, curve = (
        read(tmp_path / "out" / f"{name}.csv") for name in ("by_margin", "weeks", "cohorts", "return_curve")
    )
    for point in plain["points"]:
        mine = margins[margins["strength"] == point["strength"]]
        for (_, row), item in zip(mine.iterrows(), point["by_margin"], strict=True):
            assert [row["title"], row["margin"], row["offers"]] == [item["title"], item["margin"], item["offers"]]
            for name in ("taken", "perceived", "true"):
                assert [row[name], row[f"{name}_low"], row[f"{name}_high"]] == list(item[name].values())
        mine = weeks[weeks["strength"] == point["strength"]]
        for (_, row), item in zip(mine.iterrows(), point["weeks"], strict=True):
            assert (row["week"], row["warm_up"]) == (item["week"], item["warm_up"])
            assert row["credits_per_hour_high"] == item["credits_per_hour"]["high"]
        mine = cohorts[cohorts["strength"] == point["strength"]]
        flat = [(cohort["week"], row["days"], row["mean"]) for cohort in point["cohorts"] for row in cohort["curve"]]
        assert list(zip(mine["week"], mine["days"], mine["share"], strict=True)) == flat
        mine = curve[curve["strength"] == point["strength"]]
        assert mine["share_low"].tolist() == [row["low"] for row in point["return_curve"]]


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "＝1+1", "=HYPERLINK('x')"])
def test_no_cell_is_taken_for_a_formula(name: str, tmp_path: Path) -> None:
    loaded = renamed(name)
    run, sweep = run_result(loaded), sweep_result(loaded)
    Folder(tmp_path / "run").write(run.to_dict(), loaded, study_tables.run_files(run), {})
    Folder(tmp_path / "sweep").write(sweep.to_dict(), loaded, study_tables.sweep_files(sweep), {})
    for file in [*(tmp_path / "run").glob("*.csv"), *(tmp_path / "sweep").glob("*.csv")]:
        table = pd.read_csv(file, dtype=str, keep_default_na=False)
        numbers = pd.read_csv(file).select_dtypes("number").columns
        for column in table.columns:
            assert not column.startswith(("=", "+", "-", "@"))
            if (file.stem, column) == ("numbers", "value"):  # numbers among texts
                assert not any(cell.startswith(("=", "@", "＝")) for cell in table[column])
            elif column not in numbers:
                assert not any(cell.startswith(("=", "+", "-", "@", "＝")) for cell in table[column])
    assert f"'{name}" in read(tmp_path / "run" / "machines.csv")["machine"].tolist()
    # Data for programs keeps the name as it is.
    assert json.loads((tmp_path / "run" / "result.json").read_text())["machines"][0]["name"] == name


def test_only_texts_are_made_safe() -> None:
    table = pd.DataFrame({"text": ["=1", "fine", "\tx", None, "\nx", ""], "number": [-1.5, 2, -3, 4, 5, 6]})
    lines = list(csv.DictReader(io.StringIO(study_tables.FrameFile("rows", table).to_csv())))
    assert [line["text"] for line in lines] == ["'=1", "fine", "'\tx", "", "'\nx", ""]
    assert [float(line["number"]) for line in lines] == table["number"].tolist()
    assert table["text"].tolist()[0] == "=1"


def test_the_same_result_gives_the_same_files(tmp_path: Path) -> None:
    for name in ("one", "two"):
        result = sweep_result()
        figures = {key: figure for key, figure in charts_of(result).items() if key in ("trade-off", "by-hour")}
        Folder(tmp_path / name).write(result.to_dict(), result.loaded, study_tables.sweep_files(result), figures)
    assert {"trade-off.png", "by-hour.svg", "result.json"} <= names(tmp_path / "one")
    for file in names(tmp_path / "one"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes(), file


@pytest.mark.parametrize(
    "name",
    ["$\\frac{", "قاعة", "x" * 200]
    + [pytest.param(name, marks=pytest.mark.slow) for name in ("灯台", "🎪", "<b>&</b>", "a_b^c", "100 %")],
)
def test_names_of_any_shape_are_drawn_and_written(name: str, tmp_path: Path) -> None:
    loaded = renamed(name)
    write_run(tmp_path / "out", run_result(loaded))
    assert names(tmp_path / "out") == RUN
    assert load(tmp_path / "out" / "scenario.toml").scenario == loaded.scenario


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "result.json").write_text("mine")
    with pytest.raises(InputError) as caught:
        Folder(tmp_path)
    assert str(caught.value) == f"--out {tmp_path}: already holds files; add --force to replace the results in it"
    assert (tmp_path / "result.json").read_text() == "mine"


def test_force_writes_beside_and_over_and_deletes_nothing(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "retention.png").write_text("of an earlier sweep")
    (tmp_path / "result.json").write_text("old")
    write_run(tmp_path, run_result(), force=True)
    assert (tmp_path / "notes.txt").read_text() == "mine"
    assert (tmp_path / "retention.png").read_text() == "of an earlier sweep"
    assert json.loads((tmp_path / "result.json").read_text())["strength"] == 1.0
    assert names(tmp_path) == RUN | {"notes.txt", "retention.png"}


def test_an_empty_folder_may_be_used(tmp_path: Path) -> None:
    write_run(tmp_path, run_result())
    assert names(tmp_path) == RUN


def test_places_that_cannot_be_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "file"
    file.write_text("x")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for path, why in [
        (file, "is a file, must be a folder; name another"),
        (file / "out", f"{file} is a file, must be a folder; name another"),
        (tmp_path / "link", "is a link to nothing, must be a folder; name another"),
        (tmp_path / ("x" * 300), "cannot be used (File name too long); name another folder"),
    ]:
        with pytest.raises(InputError) as caught:
            Folder(path)
        assert str(caught.value) == f"--out {path}: {why}"
    for empty in ("", "  "):
        with pytest.raises(InputError, match="--out: is empty, must be a folder"):
            Folder(empty)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(InputError, match=f"{tmp_path} is not writable; name a folder of your own"):
        Folder(tmp_path / "out")


def test_what_fails_in_writing_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*args: Any, **kwargs: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(matplotlib.figure.Figure, "savefig", full)
    with pytest.raises(RunError) as caught:
        write_run(tmp_path / "out", run_result())
    assert str(caught.value) == (
        f"--out {tmp_path / 'out'}: could not be written (No space left on device); name another folder"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_place_of_a_file_stops_everything(tmp_path: Path) -> None:
    (tmp_path / "result.json").mkdir()
    with pytest.raises(RunError, match="result.json in it is a folder, must be a file; move it away"):
        write_run(tmp_path, run_result(), force=True)
    assert names(tmp_path) == {"result.json"}


def test_a_run_without_what_it_cannot_tell_is_written_all_the_same(tmp_path: Path) -> None:
    result = sweep_result(
        effect=lambda name, strength: float("nan") if name in ("return_28d", "better_side_wins") else 1
    )
    write_sweep(tmp_path / "out", result)
    gone = {"retention.png", "retention.svg", "trade-off.png", "trade-off.svg", "trade_off.csv"}
    assert names(tmp_path / "out") == SWEEP - gone


def test_the_manifest_lists_all_that_was_written_with_its_digest(tmp_path: Path) -> None:
    write_run(tmp_path / "out", run_result())
    listed = json.loads((tmp_path / "out" / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert set(listed) == RUN - {"manifest.json"}
    for name, item in listed.items():
        content = (tmp_path / "out" / name).read_bytes()
        assert (item["size"], item["sha256"]) == (len(content), hashlib.sha256(content).hexdigest())


def test_force_takes_all_of_an_earlier_study_away_and_nothing_else(tmp_path: Path) -> None:
    write_sweep(tmp_path / "out", sweep_result())
    (tmp_path / "out" / "notes.txt").write_text("mine")
    write_run(tmp_path / "out", run_result(), force=True)
    assert names(tmp_path / "out") == RUN | {"notes.txt"}


def test_nothing_of_another_study_becomes_part_of_a_page(tmp_path: Path) -> None:
    out, system = tmp_path / "out", tmp_path / "system"
    system.write_text("root:secret")
    write_run(out, run_result())
    (out / "trade_off.csv").write_text("of an earlier sweep")
    (out / "link.csv").symlink_to(system)
    os.mkfifo(out / "pipe.csv")
    (out / "machines.csv").write_text("changed")
    (out / "accounts.csv").unlink()
    (out / "accounts.csv").symlink_to(system)
    record = read_folder(out)
    assert not {"trade_off", "link", "pipe", "machines", "accounts"} & set(record.tables)
    assert "root:secret" not in "".join(record.tables.values())
    assert record.left_out == {
        "accounts.csv": "accounts.csv is a link", "machines.csv": "machines.csv was changed after it was written",
        "link.csv": "", "pipe.csv": "", "trade_off.csv": "",
    }  # fmt: skip


def test_a_result_beside_the_scenario_of_another_is_refused(tmp_path: Path) -> None:
    write_sweep(tmp_path / "out", sweep_result())
    write_run(tmp_path / "other", run_result(renamed("Another")))
    (tmp_path / "out" / "scenario.toml").write_bytes((tmp_path / "other" / "scenario.toml").read_bytes())
    with pytest.raises(InputError, match="scenario.toml was changed after it was written; run the command again"):
        read_folder(tmp_path / "out")


@pytest.mark.parametrize("force", [False, True])
def test_two_commands_at_once_do_not_write_to_one_place(tmp_path: Path, force: bool) -> None:
    out = tmp_path / "a" / "out"
    if force:
        write_sweep(out, sweep_result())
    first = Folder(out, force=force)
    with pytest.raises(InputError, match="another command is writing there; wait for it, or name another folder"):
        Folder(out, force=force)
    result = run_result()
    first.write(result.to_dict(), result.loaded, study_tables.run_files(result), {})
    assert json.loads((out / "result.json").read_text())["kind"] == "run"
    Folder(out, force=True)
    assert names(out.parent) == {"out"}


def test_a_claim_that_comes_to_nothing_leaves_nothing(tmp_path: Path) -> None:
    claim = Folder(tmp_path / "a" / "b" / "out")
    assert names(tmp_path) == {"a"}
    del claim
    assert names(tmp_path) == set()


def test_what_a_killed_command_left_is_cleared(tmp_path: Path) -> None:
    # What its claim leaves: the folder, a file begun, and a lock that nobody holds any more.
    left = tmp_path / ".out.being-written"
    left.mkdir()
    (left / "claim").touch()
    (left / "weeks.csv").write_text("half a ta")
    write_run(tmp_path / "out", run_result())
    assert names(tmp_path) == {"out"} and names(tmp_path / "out") == RUN
