"""The page as text: whole, in order, its figures those of the JSON, nothing in it that asks for anything outside."""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

import venue
from tests.checking import Disagrees
from tests.report.building import no_effect, point, renamed, scenario, sweep_result
from venue.errors import InputError
from venue.report import title_tables
from venue.report.charts.frame import still
from venue.report.manifest import MANIFEST, Manifest
from venue.report.page.document import page_of
from venue.report.page.record import Record, made, read
from venue.report.study_tables import sweep_files
from venue.study.judgement import Weeks
from venue.study.recommendation import Best
from venue.study.results import SweepResult

from .building import (
    HOSTILE,
    STRENGTHS,
    Elements,
    assert_figures_are_those_of,
    plain_copy,
    run_record,
    sensitivity_plain,
    sweep_folder,
    sweep_plain,
    sweep_record,
)

# Invented for pages that may be handed on: a page that fits a mail.
MOST_BYTES = 3 * 1024 * 1024
SWEEP_ORDER = [
    "The answer",
    "How sure, at what cost, and what next",
    "The figures",
    "The trade-off: take against fairness",
    "Where and when the credits come in",
    "Do people come back?",
    "Is it fair?",
    "What visitors believe, and what is true",
    "Why people left",
    "What each rule does",
    "Who may be hurt",
    "What the answer depends on",
    "What was run",
]


@pytest.fixture(scope="module")
def sweep_html() -> str:
    return page_of(sweep_record()).html


def headings(page: Elements, tag: str) -> list[str]:
    return [item["text"] for item in page.all(tag)]


def test_sections_stand_in_the_order_of_the_questions(sweep_html: str) -> None:
    assert headings(Elements(sweep_html), "h2") == SWEEP_ORDER


def test_the_answer_names_strength_take_and_how_sure(sweep_html: str) -> None:
    lead = next(item["text"] for item in Elements(sweep_html).all("p", class_="lead"))
    plain = sweep_plain()
    take = plain["points"][2]["measures"]["credits_per_hour"]
    assert "Run at catch-up strength 1." in lead and "Today's 1 is already that one" in lead
    sure = answer_text(plain)
    assert f"{take['mean']:.1f}" in sure and f"{take['low']:.1f} to {take['high']:.1f}" in sure and "75 %" in sure
    parts = headings(Elements(sweep_html), "h3")
    for part in (
        "How sure",
        "What it costs in fairness",
        "What it does to people",
        "What to do next",
        "What this cannot tell",
    ):
        assert part in parts


def test_what_results_do_not_tell_has_no_section() -> None:
    page = Elements(page_of(sweep_record(people=False)).html)
    assert headings(page, "h2") == [title for title in SWEEP_ORDER if "believe" not in title]
    assert not [item for item in page.all("figcaption") if not item["text"]]


@pytest.mark.parametrize("key", ["findings", "against_best"])
def test_results_of_an_earlier_version_are_refused_in_words(tmp_path: Path, key: str) -> None:
    folder = sweep_folder(tmp_path / "out")
    plain = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    for found in (plain, *plain["points"]):
        found.pop(key, None)
    (folder / "result.json").write_text(json.dumps(plain), encoding="utf-8")
    Manifest.of(folder, but=MANIFEST).write(folder)
    with pytest.raises(InputError, match=rf"is not a result as this version writes it .*{key}.*run the command again"):
        read(folder)


def test_figures_are_those_of_the_json(sweep_html: str) -> None:
    assert assert_figures_are_those_of(sweep_plain(), Elements(sweep_html)) >= 5 * 8


def test_a_figure_that_is_another_is_seen(sweep_html: str) -> None:
    other = sweep_plain(effect=no_effect)
    with pytest.raises(Disagrees):
        assert_figures_are_those_of(other, Elements(sweep_html))


def test_every_number_of_the_settings_table_is_one_of_the_json(sweep_html: str) -> None:
    plain = sweep_plain()
    known = {repr(item["mean"]) for point in plain["points"] for item in point["measures"].values()}
    known |= {repr(item["mean"]) for point in plain["points"] for item in point["against_best"].values()}
    table = [
        item
        for item in Elements(sweep_html).all("data")
        if any(outer["tag"] == "tr" and "data-setting" in outer["attributes"] for outer in item["within"])
    ]
    shown = [item["attributes"]["value"] for item in table]
    prices = {repr(item["price_of_a_point"]["mean"]) for item in plain["trade_off"] if item["price_of_a_point"]}
    chances = {repr(item["chance"]) for item in plain["trade_off"]}
    assert len(shown) > 40 and set(shown) <= known | prices | chances


def test_a_chart_of_its_own_shows_one_setting() -> None:
    page = page_of(sweep_record())
    for chart in page.charts:
        still(chart.figure, page.chosen)
        marks = [(str(item.get_gid()), item) for item in chart.figure.findobj() if item.get_gid()]
        shown = {mark for mark, item in marks if mark.startswith("only") and item.get_visible()}
        full = {mark for mark, item in marks if mark.startswith("ghost") and not (item.get_alpha() or 1.0) <= 0.13}
        assert shown <= {"only-2"} and full <= {"ghost-2"}
    assert any(item.get_gid() == "only-0" for chart in page.charts for item in chart.figure.findobj())


def test_nothing_points_outside(sweep_html: str) -> None:
    page = Elements(sweep_html)
    for item in page.found:
        for key, value in item["attributes"].items():
            if key in ("href", "src", "xlink:href", "action", "data", "poster"):
                assert value.startswith(("#", "data:")), (item["tag"], key, value[:80])
    assert "@import" not in sweep_html and "http-equiv" in sweep_html
    policy = page.all("meta", http_equiv="Content-Security-Policy")[0]["attributes"]["content"]
    assert policy.startswith("default-src 'none';") and "http" not in policy
    assert not re.search(
        r"https?://(?!www\.w3\.org/1999/xlink)", sweep_html.split("</style>")[1].split('<h2 id="run"')[0]
    )


def test_ids_are_there_once_and_links_lead_to_them(sweep_html: str) -> None:
    page = Elements(sweep_html)
    ids = [item["attributes"]["id"] for item in page.found if "id" in item["attributes"]]
    assert len(ids) == len(set(ids))
    for item in page.found:
        for key in ("href", "xlink:href", "for", "aria-labelledby"):
            value = item["attributes"].get(key, "")
            if value and not value.startswith("data:"):
                assert value.removeprefix("#") in ids, (item["tag"], key, value)
    for reference in re.findall(r"url\(#([^)]+)\)", sweep_html):
        assert reference in ids


def test_headings_go_down_one_level_at_a_time(sweep_html: str) -> None:
    levels = [int(item["tag"][1]) for item in Elements(sweep_html).found if re.fullmatch("h[1-6]", item["tag"])]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))


def test_charts_are_described_and_tables_have_captions(sweep_html: str) -> None:
    page = Elements(sweep_html)
    charts = page.all("svg")
    assert len(charts) >= 12
    assert all(item["attributes"]["role"] == "img" and len(item["attributes"]["aria-label"]) > 40 for item in charts)
    captions = [item for item in page.all("caption") if item["text"].strip()]
    assert len(captions) == len(page.all("table"))
    assert all("scope" in item["attributes"] for item in page.all("th"))


def test_it_fits_a_mail(sweep_html: str) -> None:
    assert len(sweep_html.encode()) < MOST_BYTES


def test_scenario_result_and_tables_are_in_it(sweep_html: str) -> None:
    record = sweep_record()
    links = {item["attributes"]["download"]: item["attributes"]["href"] for item in Elements(sweep_html).all("a")
             if "download" in item["attributes"]}  # fmt: skip
    held = {name: base64.b64decode(href.partition("base64,")[2]).decode() for name, href in links.items()}
    assert held["scenario.toml"] == record.loaded.to_toml()
    assert set(held) == {"scenario.toml", "result.json"} | {f"{name}.csv" for name in record.tables}
    assert all(held[f"{name}.csv"] == text for name, text in record.tables.items())
    assert "numbers.csv" in held


@pytest.mark.parametrize("kind", list(HOSTILE))
def test_names_of_any_kind_are_text(kind: str) -> None:
    name = HOSTILE[kind]
    loaded = renamed(name)
    page = Elements(page_of(run_record(loaded)).html)  # the parser fails where an element is left open
    assert [item["text"] for item in page.all("h1")] == [name.replace(" %", "\u00a0%")]
    assert len(page.all("script")) == 1 and not page.all("img")
    assert not [item for item in page.found if any(key.startswith("on") for key in item["attributes"])]


def test_a_run_has_no_slider_and_no_curves_over_strength() -> None:
    page = Elements(page_of(run_record()).html)
    assert not page.all("input")
    assert headings(page, "h2") == [title for title in SWEEP_ORDER if title not in (SWEEP_ORDER[3], "Is it fair?")]


def scenario_of_sensitivity(plain: dict[str, Any]) -> Record:
    """A record of `venue sensitivity` on the starter."""
    return made(plain, scenario(), ())


def test_what_the_answer_hangs_on() -> None:
    loaded = scenario()
    other = scenario_of_sensitivity(sensitivity_plain())
    page = Elements(page_of(sweep_record(loaded).with_sensitivity(other)).html)
    section = next(item["text"] for item in page.all("section", aria_labelledby="depends-on"))
    assert "people.buy_in.chance changes it most: 28.5" in section
    answer = " ".join(told(page))
    assert "Measure people.buy_in.chance: it is assumed" in answer
    assert "sensitivity" not in answer
    alone = without_charts(other)
    assert headings(alone, "h2") == ["The answer", SWEEP_ORDER[1], *SWEEP_ORDER[-3:]]


def test_sensitivity_of_another_venue_is_refused() -> None:
    other = made(sensitivity_plain(), renamed("Elsewhere"), ())
    with pytest.raises(InputError, match='is of "Elsewhere", not of'):
        sweep_record().with_sensitivity(other)
    with pytest.raises(InputError, match="holds a result of venue run; name a folder written by venue sensitivity"):
        sweep_record().with_sensitivity(run_record())


def test_a_title_is_shown_as_venue_contest_has_it() -> None:
    result = venue.solve(scenario(), strengths=(0.0, 1.0))
    page = page_of(made(result.to_dict(), result.loaded, title_tables.title_files(result)))
    found = Elements(page.html)
    lead = next(item["text"] for item in found.all("p", class_="lead"))
    assert f"{100 * result.apart.whole.better_side_wins:.1f}\u00a0%" in lead
    assert {chart.name for chart in page.charts} >= {"final-margin", "fairness", "rules", "chance-to-win"}
    assert len(page.html.encode()) < MOST_BYTES


@pytest.mark.slow
def test_no_setting_to_recommend() -> None:
    loaded = scenario()
    result = sweep_result(loaded, best=None)
    page = Elements(page_of(made(result.to_dict(), loaded, sweep_files(result))).html)
    assert "None of the 5 strengths tried can be recommended." in next(
        item["text"] for item in page.all("p", class_="lead")
    )


@pytest.mark.slow
def test_one_replication_has_no_intervals() -> None:
    loaded = scenario(replications=1)
    result = sweep_result(loaded)
    page = page_of(made(result.to_dict(), loaded, sweep_files(result)))
    assert "nan" not in re.sub(r"base64,[^\"]*", "", page.html).lower().replace("finance", "")


@pytest.mark.parametrize(
    "broken", [{"points": [{"at": {}}]}, {"points": 3}, {"points": [{"at": {"strength": 1}, "measures": 7}]}]
)
def test_results_that_are_none_are_refused(broken: dict[str, Any]) -> None:
    loaded = scenario()
    plain = plain_copy(sweep_plain()) | broken
    with pytest.raises(InputError, match="is not a result as this version writes it"):
        page_of(made(plain, loaded, ()))


def without_charts(record: Record) -> Elements:
    """The page of a record with no chart drawn, which says the same."""
    with patch("venue.report.page.document.charts_of", return_value={}):
        return Elements(page_of(record).html)


def test_charts_that_are_not_drawn_change_no_word(sweep_html: str) -> None:
    page = without_charts(sweep_record())
    (answer, advice), (answer_beside_chart, advice_beside_charts) = told(page), told(Elements(sweep_html))
    assert not page.all("svg") and advice == advice_beside_charts
    assert answer_beside_chart.startswith(answer.rstrip())


def told(page: Elements) -> list[str]:
    """The answer, and how sure it is."""
    advice = page.all("section", aria_labelledby="how-sure")
    return [item["text"] for item in [*page.all("section", class_="answer"), *advice]]


def answer_text(plain: dict[str, Any]) -> str:
    """What the answer of a sweep says."""
    return " ".join(told(without_charts(made(plain, scenario(), ())))).replace("\u00a0", " ")


def with_weeks(plain: dict[str, Any], takes: tuple[float, ...], half: float = 3.0) -> dict[str, Any]:
    """The same sweep, its take by week another."""
    rows = [{"week": week, "warm_up": week == 1,
             "credits_per_hour": {"mean": take, "low": take - half, "high": take + half}}
            for week, take in enumerate(takes, 1)]  # fmt: skip
    for item in plain["points"]:
        item["weeks"] = rows
    plain["findings"]["settled"] = [Weeks(rows, plain["days"]).settling.plain()] * len(plain["points"])
    return plain


def test_a_take_that_has_not_settled_is_said_in_the_answer() -> None:
    moving = answer_text(with_weeks(plain_copy(sweep_plain()), (80.0, 90.0, 100.0, 110.0)))
    assert "still moving. 90" in moving and "--days 84 --set study.warm_up=14" in moving
    steady = answer_text(with_weeks(plain_copy(sweep_plain()), (80.0, 110.0, 109.0, 110.0)))
    assert "moving" not in steady and "--days" not in steady


def test_a_take_that_may_not_have_settled_is_not_called_steady() -> None:
    text = answer_text(with_weeks(plain_copy(sweep_plain()), (80.0, 100.0, 103.0, 107.0), 9.0))
    assert "The take may be still moving. 100" in text and "--days 84" in text
    assert "is still moving" not in text


def tied(better: float, half: float = 0.002, best: int = 2, ties: tuple[int, ...] = (1, 3)) -> dict[str, Any]:
    """A sweep whose recommended strength is a tie with some others, the lower ones being so much fairer."""
    loaded = scenario()

    def effect(name: str, strength: float) -> float:
        return 1.0 + better * (1.0 - strength) / 0.5 / 0.72 if name == "better_side_wins" else no_effect(name, strength)

    points = [point(loaded, strength, effect) for strength in STRENGTHS]
    for place, item in enumerate(points):
        for number, replication in enumerate(item.replications):
            # Paired differences that vary: the take falls by 0.3 on average, and fairness by as much as is asked.
            way = (-1, 1, -1, 1, 0)[number] * (place - best) / 4
            replication.measured.venue["credits_per_hour"] += way - 0.3 * (place != best)
            replication.measured.venue["better_side_wins"] += way * half * 2
    chosen = Best(best, STRENGTHS[best], "most take", 0.75, ties)
    return SweepResult(loaded, tuple(points), chosen).to_dict()


def test_a_tie_in_take_that_is_fairer_stands_beside_the_recommendation() -> None:
    assert "If fairness is to decide, take 0.5: the better side wins 1.00 ± 0." in answer_text(tied(0.01))


@pytest.mark.parametrize(("better", "half"), [(0.01, 0.04), (-0.0001, 0.002)])
def test_a_tie_that_may_be_no_fairer_does_not(better: float, half: float) -> None:
    assert "fairness is to decide" not in answer_text(tied(better, half))


def test_todays_setting_is_set_against_the_recommended() -> None:
    assert "Today's 1 is already that one: nothing to change." in answer_text(tied(0.01, ties=()))
    assert "Today's 1 is one of them: nothing to change." in answer_text(tied(0.01, best=1, ties=(2,)))
    assert re.search(r"Today's 1 surely takes less: moving changes the take by \+0\.2\d* ± [\d.]+ %\.",
                     answer_text(tied(0.01, best=1, ties=(0,))))  # fmt: skip


def test_next_steps_come_the_most_useful_first() -> None:
    plain = with_weeks(tied(0.01), (80.0, 90.0, 100.0, 110.0))
    text = answer_text(plain)
    steps = ["run more days", "Look first to local law", "Before changing every machine", "venue sensitivity", "--sure"]
    places = [text.index(step) for step in steps]
    assert places == sorted(places)
    at_the_end = with_weeks(tied(0.01, best=4, ties=()), (80.0, 90.0, 100.0, 110.0))
    text = answer_text(at_the_end)
    assert "try some beyond it: venue sweep starter.toml --strengths 2,2.5,3" in text
    assert text.index("try some beyond it") < text.index("run more days")


def test_the_two_kinds_of_intervals_are_told_apart() -> None:
    assert re.search(r"± behind a figure of one strength:.*± behind a difference:", answer_text(tied(0.01)))


def test_a_tie_that_is_surely_fairer_is_put_to_the_reader() -> None:
    text = answer_text(tied(0.01))
    assert re.search(
        r"0\.5 is a tie on take \(−0\.3\d* ± [\d.]+ credits per open hour\), and surely fairer: \+1\.0", text
    )
    assert "1.5 is a tie on take" not in text
    assert "intervals that hold for all 5 together" in text


def test_the_answer_counts_numbers_whose_origin_is_not_stated_and_cautions(sweep_html: str) -> None:
    text = " ".join(told(Elements(sweep_html)))
    found = re.search(
        r"Of the (\d+) numbers in the scenario (\d+) were measured or fitted; of the others ([^.]*)", text
    )
    assert found and sum(map(int, re.findall(r"\d+", found.group(3)))) + int(found.group(2)) == int(found.group(1))
    assert "local law" in text
    assert "points of 100" not in sweep_html


def test_titles_of_charts_tell_where_a_measure_goes(sweep_html: str) -> None:
    titles = [item["text"].replace("\u00a0", " ") for item in Elements(sweep_html).all("figcaption")]
    for beginning in ("Return within 28 days", "Better side wins", "Empty wallets"):
        title = next(text for text in titles if text.startswith(beginning))
        assert re.search(r"[\d.]+ % at 0, [\d.]+ % at 2", title), title
    assert any(text.startswith('"') and "changes most" in text for text in titles)


def lead_of(plain: dict[str, Any]) -> str:
    """The answer itself."""
    page = without_charts(made(plain, scenario(), ()))
    return next(item["text"] for item in page.all("p", class_="lead")).replace("\u00a0", " ")


def test_ties_are_told_as_a_range() -> None:
    lead = lead_of(tied(0.01))
    assert lead.startswith("Anything from catch-up strength 0.5 to 1.5 will do.")
    assert "%" not in lead.partition("will do.")[2].split(".")[0]  # no chance of being the best
    assert "Today's 1 is one of them: nothing to change." in lead


def test_ties_that_are_no_neighbours_are_told_as_a_list() -> None:
    lead = lead_of(tied(0.01, ties=(0, 4)))
    assert lead.startswith("Catch-up strength 0, 1 or 2 will do.")


def test_one_that_is_told_apart_is_no_range() -> None:
    lead = lead_of(tied(0.01, ties=()))
    assert lead.startswith("Run at catch-up strength 1.") and "Anything" not in lead


def answers() -> dict[str, str]:
    """The longest answers of every kind: with ties, a fairer one, and a take that has not settled."""
    moving = with_weeks(tied(0.01), (80.0, 90.0, 100.0, 110.0))
    away = with_weeks(tied(0.01, best=1, ties=(0,)), (80.0, 90.0, 100.0, 110.0))
    long = renamed("A name of some words that is as long as names become " * 3)
    title = venue.solve(scenario(), strengths=(0.0, 1.0))
    records = {
        "tied": made(moving, scenario(), ()),
        "away": made(away, scenario(), ()),
        "run": run_record(),
        "long": sweep_record(long),
        "contest": made(title.to_dict(), title.loaded, ()),
        "sensitivity": scenario_of_sensitivity(sensitivity_plain()),
    }
    with patch("venue.report.page.document.svg", return_value="<svg></svg>"):  # what is counted, not looked at
        return {kind: page_of(record).html for kind, record in records.items()}


def test_the_answer_takes_at_most_60_words_with_its_worth_five_figures_and_a_chart() -> None:
    for kind, html in answers().items():
        page = Elements(html)
        (answer,) = [item for item in page.all("section") if item["attributes"].get("class", "").startswith("answer")]
        (lead,) = page.all("p", class_="lead")
        assert 8 <= len(lead["text"].split()) <= 60, (kind, lead["text"])
        within = [item for item in page.found if answer in item["within"]]
        (stake,) = [item for item in within if item["attributes"].get("class") == "stake"]
        assert re.search(r"\d", stake["text"]) and re.search("interval|exact|same in every", stake["text"]), kind
        (key,) = [item for item in within if item["attributes"].get("class") == "key"]
        figures = [item for item in within if item["tag"] == "dt" and key in item["within"]]
        assert len(figures) == (3 if kind == "sensitivity" else 5), kind
        assert len([item for item in within if item["tag"] == "svg"]) == 1


def test_nothing_is_solved_for_a_page(monkeypatch: pytest.MonkeyPatch) -> None:
    result = venue.solve(scenario(), strengths=(0.0, 1.0))
    records = [sweep_record(), made(result.to_dict(), result.loaded, ())]

    def refused(*_: Any, **__: Any) -> None:
        raise AssertionError("a page solves something")

    monkeypatch.setattr("venue.contest.solved.Solved.__init__", refused)
    with pytest.raises(AssertionError, match="a page solves"):  # as asking for anything that was not stored would
        venue.study.title.title_result(scenario())
    for record in records:
        assert "What each rule does" in headings(Elements(page_of(record).html), "h2")
