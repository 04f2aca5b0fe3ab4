"""What a command says first: three lines, one table of at most six columns in a window of 80, and the caution."""

from __future__ import annotations

from dataclasses import replace

import pytest

import venue
from venue.report import scenario_text
from venue.report.columns import paragraph, room
from venue.report.heading import CAUTION_SHORT
from venue.report.layout import Part, as_text
from venue.report.study_text import compare_parts, run_parts, sensitivity_parts, sweep_parts
from venue.report.tables import Table
from venue.report.title_text import title_parts
from venue.scenario.load import load
from venue.study.compare import CompareResult
from venue.study.implied import Implied

from ..floor.textbook import textbook
from ..scenario.building import DEMOS, FOLDER
from .building import blocks, columns_of, run_result, scenario, sweep_result

PASTIME = {"row": {"count": 3, "price": 1, "play_time": "2 min"}}


def short_ones() -> dict[str, list[Part]]:
    run, sweep = run_result(), sweep_result()
    rivals = replace(sweep, best=replace(sweep.best, rivals=(0, 1, 3, 4)))
    compared = CompareResult(
        (run.loaded, run.loaded), ("starter", "machines.ferry.price=3"), (sweep.points[0], run.point)
    )
    several = textbook(PASTIME, 20.0, hours="10:00-14:00", days=3)
    ranked = venue.sensitivity(several, keys=["people.stay"], trajectories=2, shares=0, days=1)
    return {
        "run": run_parts(run, full=False), "sweep": sweep_parts(rivals, full=False),
        "sweep without": sweep_parts(sweep_result(best=None), full=False),
        "compare": compare_parts(compared, full=False), "sensitivity": sensitivity_parts(ranked, full=False),
        "contest": title_parts(venue.solve(scenario(), strengths=(0.0, 1.0)), full=False),
    }  # fmt: skip


@pytest.fixture(scope="module")
def said() -> dict[str, list[Part]]:
    return short_ones()


KINDS = ("run", "sweep", "sweep without", "compare", "sensitivity", "contest")


@pytest.mark.parametrize("kind", KINDS)
def test_the_answer_comes_first_in_three_lines(said: dict[str, list[Part]], kind: str) -> None:
    first = said[kind][0]
    assert isinstance(first, str) and len(paragraph(first, 80).split("\n")) <= 3
    assert not first.startswith("Caution")


@pytest.mark.parametrize("kind", KINDS)
def test_there_is_one_table_of_at_most_six_columns(said: dict[str, list[Part]], kind: str) -> None:
    tables = [part for part in said[kind] if isinstance(part, Table)]
    text = as_text(said[kind], 80)
    (block,) = blocks(text)
    assert len(tables) == 1 and len(columns_of(block)) <= 6
    assert all(room(line) <= 80 for line in text.split("\n"))
    assert len(text.split("\n")) <= 30


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "contest"])
def test_the_caution_stays(said: dict[str, list[Part]], kind: str) -> None:
    assert said[kind][-1] == CAUTION_SHORT
    assert "local law" in CAUTION_SHORT and "minors" in CAUTION_SHORT


def test_what_only_statisticians_know_is_explained_where_it_stands(said: dict[str, list[Part]]) -> None:
    for kind in ("run", "sweep", "compare"):
        text = " ".join(as_text(said[kind], 80).split())
        assert "half of the 95 % interval (where the true mean likely lies)" in text
    assert "standard deviation (typical distance from the mean)" in " ".join(as_text(said["contest"], 80).split())


def test_a_sweep_names_its_ties_and_asks_for_more_days(said: dict[str, list[Part]]) -> None:
    text = " ".join(as_text(said["sweep"], 80).split())
    assert text.startswith(
        "Recommended: anything from catch-up strength 0 to 2 will do. Their takes cannot be told apart."
    )
    assert "Today's 1 is one of them: nothing to change." in text
    assert "--days 84 --set study.warm_up=14" in text


def test_differences_that_are_not_sure_are_marked(said: dict[str, list[Part]]) -> None:
    (block,) = blocks(as_text(said["compare"], 100))
    row = next(line for line in block if line.startswith("machines.ferry.price=3"))
    # The made-up results are the same but for the edge of skill.
    assert row.count("~") == len(columns_of(block)) - 1


@pytest.mark.parametrize("name", DEMOS)
def test_a_check_is_one_screen(name: str) -> None:
    loaded = load(FOLDER / f"{name}.toml")
    found = Implied(396.4, 504.5, 16.31, 3983.75, 13.25)
    text = as_text(scenario_text.check_parts(loaded, found, full=False), 80)
    lines = text.split("\n")
    assert len(lines) <= 40 and all(room(line) <= 80 for line in lines)
    head, *_ = blocks(text)
    assert lines.index(head[-1]) < 7 and head[-1].split()[-5:] == ["396", "504", "16.3", "3984", "13"]
    assert "people.wallet" not in text and "To be run" in text
    assert len(as_text(scenario_text.check_parts(loaded, full=True), 80).split("\n")) > 100
