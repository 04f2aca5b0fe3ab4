"""Terminal, page, chart titles and JSON say the same of a sweep: 200 made-up ones. Every kind of record is read back as
it was written. The words of each claim stand in one file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_equal, check_that
from tests.page.building import sensitivity_plain
from venue.report.charts.titles import course, take_title
from venue.report.layout import as_text
from venue.report.page.answer import answer_of
from venue.report.page.parts import text_of
from venue.report.page.reading import study_of
from venue.report.page.record import made
from venue.report.sentences import costs
from venue.report.sentences.parts import sentence_text
from venue.report.study_text import compare_parts, sweep_parts
from venue.study.compare import CompareResult
from venue.study.point import Point, difference
from venue.study.recommendation import choose
from venue.study.records import Record, read_record, record_of
from venue.study.requirements import Requirements
from venue.study.results import SweepResult

from .building import point, run_result, scenario, sweep_result

SWEEPS, PARTS = 200, 4  # in parts, so that several cores share them
CLAIMS = (
    " cannot be told apart.", " the most{view.aim_named}", "truly best; with a chance of ", "can be recommended",
    ": nothing to change.", " still moving.", "If fairness is to decide", "surely takes more", "always the same",
    "more replications tell them apart", "is the very best of the", "No score is better with a point less",
    "To measure next",
    "no sure change", "What is bought with it", "are followed by another", " does most: ", " depends most on ",
    "where the true mean likely lies", "where the true difference likely lies", "changes it most",
    "No switch turns off", "the worst tried, would cost", "is a tie on take", "were measured or fitted",
    "the rules together", " a week, from ", "Before changing every machine", "Few replications",
)  # fmt: skip


prepared = cache(scenario)


def random_sweep(seed: int) -> SweepResult:
    """A sweep whose settings differ by chance, some surely, some not, and whose take moves by chance."""
    draws = np.random.default_rng(seed)
    count, settings = int(draws.integers(1, 10)), int(draws.integers(1, 5))
    loaded = prepared(count)
    strengths = draws.choice([0.0, 0.5, 1.0, 1.5, 2.0], settings, replace=False).tolist()
    size, way = draws.choice([0.0, 0.01, 0.05]), draws.choice([-2.0, 0.1, 2.0])
    points: list[Point] = []
    for strength in strengths:
        item = point(loaded, strength, lambda name, at: 1.0)
        for replication in item.replications:
            found = replication.measured.venue
            for name in ("credits_per_hour", "better_side_wins", "return_28d"):
                found[name] *= 1 + size * (draws.normal() + way * strength)
            object.__setattr__(replication.measured, "weeks", tuple(
                replace(week, credits_per_hour=week.credits_per_hour + draws.normal()) for week in
                replication.measured.weeks
            ))  # fmt: skip
        points.append(item)
    loaded = loaded.change(keep_better_side_wins=float(draws.choice([0.0, 0.72, 0.9])))
    study = loaded.scenario.study
    required = Requirements.of(study)
    return SweepResult(loaded, tuple(points), choose(points, required, seed))


def check_says_what_json_says(plain: Mapping[str, Any], said: str) -> None:
    """Whether a text makes the claims of the findings, and no others."""
    found, points = plain["findings"], plain["points"]
    label = [f"{item['at']['strength']:g}" for item in points]
    tie = found["tie"]
    check_equal("can be recommended" in said, found["recommended"] is None)
    several = tie is not None and len(tie["places"]) > 1
    same = found["reason"] == "same take everywhere"
    check_equal("cannot be told apart" in said, several and not same)
    if several and not same and tie["lowest"] is not None:
        ends = f"{label[tie['lowest']]} to {label[tie['highest']]}"
        check_that(re.search(f"nything from catch-up strength {re.escape(ends)} will do", said))
    if tie is not None and not several and len(points) > 1 and not same:
        check_that(f"un at catch-up strength {label[found['recommended']]}." in said)
    state = found["settled"][found["recommended"]]["state"] if found["recommended"] is not None else "settled"
    check_equal(("is still moving" in said, "may be still moving" in said), (state == "moving", state == "unclear"))
    check_equal("If fairness is to decide" in said, found["fairer"] is not None)
    today = found["today"]["standing"] if found["today"] and len(points) > 1 else "alone"
    check_equal("nothing to change" in said, today in ("recommended", "tied"))
    check_equal("moving changes the take by" in said, today in ("behind", "refused"))


WAYS = {", rising": "rises", ", falling": "falls", ", up and down": "both", ": always the same": "same"}


@pytest.fixture
def nothing_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("venue.study.results.titles_taken_apart", lambda *_: [])
    monkeypatch.setattr("venue.study.posterior.DRAWS", 500)  # chances are not what is looked at


@pytest.mark.usefixtures("nothing_solved")
@pytest.mark.parametrize("part", range(PARTS))
def test_terminal_page_charts_and_json_agree(part: int) -> None:
    seen: set[str] = set()
    for seed in range(part, SWEEPS, PARTS):
        result = random_sweep(seed)
        plain = result.to_dict()
        study = study_of(made(plain, result.loaded, ()))
        terminal = " ".join(as_text([sweep_parts(result, full=False)[0]], 100).split())
        page = " ".join(text_of(words) for words in answer_of(study).lead).replace("\u00a0", " ")
        for said in (terminal, page):
            check_says_what_json_says(plain, said)
        for measure in ("better_side_wins", "return_28d"):
            title, direction = course(study, measure, "It"), plain["findings"]["measures"][measure]["direction"]
            told = next((way for words, way in WAYS.items() if title.startswith(f"It{words}:")), None)
            assert told == (direction if direction in WAYS.values() and len(result.points) > 1 else None), title
            seen.add(direction)
        direction = plain["findings"]["measures"]["credits_per_hour"]["direction"]
        flat = direction in ("flat", "unknown") and len(result.points) > 1
        assert take_title(study).startswith("No strength surely takes more") == flat
        seen |= {plain["findings"]["reason"], *(item["state"] for item in plain["findings"]["settled"])}
    assert seen >= {"rises", "falls", "flat", "most take", "none keeps the requirements"}


@pytest.mark.usefixtures("nothing_solved")
def test_control_a_text_of_other_findings_is_seen() -> None:
    result = sweep_result()
    other = replace(result, best=replace(result.best, rivals=(1, 3)))
    said = " ".join(as_text([sweep_parts(result, full=False)[0]], 100).split())
    check_says_what_json_says(result.to_dict(), said)
    with pytest.raises(Disagrees):
        check_says_what_json_says(other.to_dict(), said)


@pytest.mark.usefixtures("nothing_solved")
def test_costs_and_stakes_are_those_of_the_findings() -> None:
    seen = set()
    for seed in range(60):
        result = random_sweep(seed)
        plain = result.to_dict()
        study = study_of(made(plain, result.loaded, ()))
        view, found = study.view, result.findings
        if view is None or found.recommended is None or len(result.points) < 2:
            continue
        stake, tile = plain["findings"]["stake"], answer_of(study).stake
        assert (tile is None) == (stake is None)
        if tile is not None:
            assert tile.figure.value == stake["difference"]["mean"]
            best, other = result.points[found.recommended], result.points[stake["place"]]
            away = difference(other, best, stake["measure"])
            assert away is not None and abs(away.mean) == pytest.approx(abs(tile.figure.value))
            seen.add(stake["kind"])
        if found.unaided is not None:
            course_of = found.measures["return_28d"]
            sure = found.unaided in (*course_of.more, *course_of.less)
            line = next(sentence_text(item) for item in costs.people(view) if "28 days" in sentence_text(item))
            one = len(result.points[0].replications) == 1
            assert ("no sure change" in line) == (not sure and not one), line
            seen.add(sure)
            bought = any("What is bought with it" in sentence_text(item) for item in costs.fairness_cost(view, None))
            assert bought == (found.unaided in found.measures["credits_per_hour"].less)
    assert seen >= {"move", "worst", True, False}


@pytest.mark.parametrize(("part", "words"), [(1.0, "stays the same"), (1.2, "rises by 28.0"), (0.8, "falls by 28.0")])
def test_a_change_is_one_sentence_and_warns_of_what_has_not_settled(part: float, words: str) -> None:
    loaded = scenario()
    points = (point(loaded, 1.0), point(loaded, 1.0, lambda name, at: part if name == "credits_per_hour" else 1.0))
    result = CompareResult((loaded, loaded), ("as it is", "other"), points)
    first, *rest = [item for item in compare_parts(result, full=False) if isinstance(item, str)]
    assert first.startswith(f"other against as it is: the take {words}") and first.count(". ") == 0
    states = [result.findings.settled.state, *(item.settled.state for item in result.findings.changes)]
    assert states == ["moving", "moving"]
    assert rest[0].startswith(
        "The take is still moving in as it is and other. Longer runs may differ. To see it settled"
    )
    study = study_of(made(result.to_dict(), loaded, ()))
    page = " ".join(text_of(line) for line in answer_of(study).lead)
    assert words in page and "still moving in as it is and other" in page and len(page.split()) <= 60


def records() -> dict[str, Record]:
    """A record of each kind."""
    run, sweep, loaded = run_result(), sweep_result(), scenario()
    compared = CompareResult((run.loaded, run.loaded), ("a", "b"), (sweep.points[0], run.point))
    alone = run_result(scenario(1))
    tuned = venue.tune(loaded, reach="close_finishes=0.5")
    found: list[Record] = [run.record, sweep.record, compared.record, venue.solve(loaded, strengths=(0.0, 1.0)).record]
    found += [tuned.record, record_of(sensitivity_plain())]
    return {item.kind: item for item in found} | {"one replication": alone.record}


def test_every_record_is_read_back_as_it_was_written() -> None:
    found = records()
    assert set(found) == {"run", "sweep", "compare", "contest", "tune", "sensitivity", "one replication"}
    for item in found.values():
        again = read_record(item.to_json())
        assert type(again) is type(item) and again == item
        assert "NaN" not in item.to_json() and again.plain() == item.plain()


def test_the_words_of_a_claim_stand_in_one_file() -> None:
    folder = Path(venue.__file__).parent
    for words in CLAIMS:
        files = [path for path in sorted(folder.rglob("*.py")) if words in path.read_text(encoding="utf-8")]
        homes = [f"{path.parent.name}/{path.name}" for path in files]
        assert len(homes) == 1 and homes[0].startswith("sentences/"), (words, homes)
