"""What a page shows, in the order in which questions come: the answer, how sure it is, what it trades, who is hurt, how
it is known.

A section that has nothing to show is not there. A chart that stands on the first screen is not shown again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from venue.report.charts.frame import Chart
from venue.report.charts.within_setting import title_name
from venue.report.heading import CAUTION
from venue.report.page import commands, grids
from venue.report.page.advice import advice, origins
from venue.report.page.answer import answer_of
from venue.report.page.downloads import what_was_run
from venue.report.page.parts import (
    Answer,
    Block,
    Card,
    Charts,
    Code,
    Dial,
    Figure,
    Folded,
    Grid,
    Heading,
    Name,
    OneEach,
    PageContent,
    Part,
    Prose,
    Section,
    Tile,
    Tiles,
    said,
)
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import difference, shown, span
from venue.report.sentences import titles
from venue.study.floor_records import CompareRecord, RunRecord, SensitivityRecord, SweepRecord
from venue.study.registry import MEASURES
from venue.study.title_records import ContestRecord

_KINDS = {"sweep": "Sweep", "run": "Run", "compare": "Comparison", "contest": "Title", "sensitivity": "Sensitivity"}
_FAIR_WORDS = (
    "Better side wins: contests won by the side with more skill; half of them would be a coin toss. Skill edge kept: "
    "what is left of the edge that the better side would have unaided; 100 % decides as skill would, 0 % is a coin "
    "toss. Close finishes: contests that end within the few points that the title calls close."
)
_RULES_WORDS = (
    "Computed exactly from the rules, for newcomers who all play to the end: against each other at two seats, else "
    "against the computer. On the floor people practise, give up and find nobody to play, so that the figures of the "
    "machines above may differ. Alone: the rule by itself against no rule at all. Among all: all rules against all "
    "but this one. A rule without a switch is scaled by strength like the others, unless it is marked as not scalable."
)
_TILES = ("credits_per_hour", "better_side_wins", "skill_edge", "close_finishes", "return_28d", "empty_wallets",
          "spend_p95", "spend_top_tenth", "profit_per_week", "limit_reached")  # fmt: skip
_MOST_CARDS = 200


class _Shelf:
    """The charts of a page, each shown once."""

    def __init__(self, charts: Mapping[str, Chart], answer: Answer) -> None:
        self._left = {name: chart for name, chart in charts.items() if name != answer.chart}

    def take(self, *beginnings: str) -> list[Block]:
        """Charts whose names begin so, in that order; no block without any."""
        names = [name for beginning in beginnings for name in self._left
                 if name == beginning or name.startswith(f"{beginning}-")]  # fmt: skip
        found = [self._left.pop(name) for name in dict.fromkeys(names)]
        return [Charts(found)] if found else []


Maker = Callable[[Study, _Shelf], Iterable[Block | None]]


def content_of(study: Study, charts: Mapping[str, Chart]) -> PageContent:
    """All that the page of a record shows."""
    record = study.record
    answer = answer_of(study)
    if answer.chart not in charts:
        answer = Answer(answer.lead, answer.stake, answer.figures_of, answer.tiles, next(iter(charts), None))
    shelf = _Shelf(charts, answer)
    sections = []
    for key, title, maker in _ORDER:
        blocks = [item for item in maker(study, shelf) if item is not None]
        if blocks:
            sections.append(Section(key, title, blocks))
    return PageContent(
        _KINDS[record.kind], record.venue_name, _about(study), answer, sections,
        record.data.version, study.first_shown.place if study.settings else 0, _dial(study),
        charts,
    )  # fmt: skip


def _about(study: Study) -> str:
    """What was asked, and how the page knows."""
    data = study.record.data
    if isinstance(data, ContestRecord):
        return f"What do the rules of {title_name(study, data.title)} do? Computed exactly; nothing is simulated."
    runs = f"simulated {data.replications} times over {data.days} days"
    if isinstance(data, SweepRecord):
        what = "catch-up strength" if study.keys == ("strength",) else " and ".join(study.keys)
        return f"Which {what} to run at? {len(study.settings)} tried on the same visitors, {runs}."
    if isinstance(data, CompareRecord):
        return f"What changes? {len(study.settings)} scenarios on the same visitors, {runs}."
    if isinstance(data, SensitivityRecord):
        return f"Which numbers does the answer depend on? {data.runs} runs of {data.days} days."
    return f"What happens at catch-up strength {data.strength:g}? {runs.capitalize()}."


def _dial(study: Study) -> Dial | None:
    """The slider over the settings that were run; None where there is nothing to choose."""
    if study.record.kind != "sweep" or len(study.settings) < 2:
        return None
    last = len(study.settings[:_MOST_CARDS]) - 1
    start = min(study.first_shown.place, last)
    return Dial(
        "Catch-up strength" if study.keys == ("strength",) else "Setting", last, start,
        _named(study, study.settings[start]),
        f"Charts and figures below follow; titles name the {study.word} they speak of. Only the "
        f"{len(study.settings)} {study.word}s that were run; nothing in between.",
    )  # fmt: skip


def _named(study: Study, item: SettingView) -> str:
    return item.label + (" (recommended)" if item.place == study.best else "")


def _advice(study: Study, _shelf: _Shelf) -> Iterable[Block]:
    return advice(study)


def _settings(study: Study, _shelf: _Shelf) -> Iterable[Block | None]:
    """One card for each setting; the slider shows one at a time."""
    if study.record.kind not in ("sweep", "run"):
        return
    yield from (_card(study, item) for item in study.settings[:_MOST_CARDS])
    if len(study.settings) > 1:
        words = (
            f'The ± under "against the recommended" is that of the difference, every other one that of a figure by '
            f"itself. Every {study.word} met the same visitors, whose luck cancels out in a difference: two may "
            "surely differ although their own intervals overlap."
        )
        yield Folded(f"Table: every {study.word} that was run", [grids.settings_grid(study), Prose([words], "about")])


def _card(study: Study, item: SettingView) -> Card:
    """The foremost figures of one setting, with all of them folded away."""
    tiles = []
    for key in _TILES:
        found = item.measures.get(key)
        if found is None or (key == "limit_reached" and not study.ever(key)):
            continue
        unit, against = study.unit(key), item.against.get(key)
        notes = [span(found, unit)]
        notes += [] if against is None else [f"{difference(against, unit)} against the recommended"]
        money = f" ({study.unit(key)})" if key == "profit_per_week" else ""
        figure = Figure(shown(found, unit), found.mean)
        tiles.append(Tile(MEASURES[key].label + money, figure, "; ".join(note for note in notes if note), key))
    best = item.place == study.best
    heading: list[Part] = ["At ", Name(item.name), " (recommended)" if best else ""]
    more = Folded(f"Every measure at {item.name}", [grids.measures_grid(study, item)])
    on = item.place == study.first_shown.place
    return Card(item.place, _named(study, item), heading, Tiles(tiles), more, on)


def _one_each(study: Study, summary: str, maker: Callable[[Study, SettingView], Grid | None]) -> Block | None:
    """A table for each setting, of which the slider shows one; folded away."""
    made = {item.place: [grid] for item in study.overlaid if (grid := maker(study, item)) is not None}
    if not made:
        return None
    if len(study.settings) < 2:
        return Folded(summary, next(iter(made.values())))
    return Folded(summary, [OneEach(made, study.first_shown.place)])


def _trade_off(study: Study, shelf: _Shelf) -> Iterable[Block | None]:
    yield from shelf.take("trade-off")
    if study.record.kind == "sweep":
        yield grids.front_grid(study)


def _take(study: Study, shelf: _Shelf) -> Iterable[Block | None]:
    yield from shelf.take("credits-per-hour", "map-credits-per-hour", "money", "machines", "by-hour", "weeks")
    if study.record.kind in ("sweep", "run"):
        yield _one_each(study, "Table: machines", grids.machines_grid)
        yield _one_each(study, "Table: hours of the day", grids.hours_grid)


def _retention(_study: Study, shelf: _Shelf) -> Iterable[Block]:
    return shelf.take("retention", "map-return-28d", "return-curve", "cohorts")


def _fairness(study: Study, shelf: _Shelf) -> Iterable[Block]:
    if study.record.kind == "sweep":
        found = shelf.take("fairness", "map-better-side-wins")
        yield from found
        if found:
            yield Prose([_FAIR_WORDS], "about")


def _belief(study: Study, shelf: _Shelf) -> Iterable[Block | None]:
    yield from shelf.take("by-margin")
    yield _one_each(study, "Table: offers by margin", grids.offers_grid)


def _leaving(study: Study, shelf: _Shelf) -> Iterable[Block | None]:
    yield from shelf.take("why-people-left")
    grid = grids.leaving_grid(study)
    yield None if grid is None else Folded("Table: why people left", [grid])


def _rules(study: Study, shelf: _Shelf) -> Iterable[Block | None]:
    data = study.record.data
    designs = study.record.loaded.scenario.titles
    if isinstance(data, ContestRecord):
        if data.apart.alone:
            yield Prose(said(titles.together(data.apart)))
        yield from shelf.take("rules", "fairness", "final-margin", "effective-chance", "lead-safety", "chance-to-win")
        if data.apart.alone:
            grid = grids.rules_grid(title_name(study, data.title), data.apart, designs[data.title].rules)
            yield Folded("Table: each rule", [grid])
        in_points = data.moments.left_in == "points"
        yield grids.faults_grid(data.trailing_pays.faults, in_points=in_points)
        yield grids.moves_grid(data)
        return
    last = None
    for item in data.titles if isinstance(data, RunRecord | SweepRecord) else ():
        if item.title != last:
            yield Heading([Name(title_name(study, item.title))])
        last = item.title
        yield Prose(said(titles.together(item.apart)))
        rules = designs[last].rules if last in designs else {}
        yield Folded(f"Table: each rule at strength {item.apart.strength:g}",
                     [grids.rules_grid(title_name(study, item.title), item.apart, rules),
                      Prose([_RULES_WORDS], "about")])  # fmt: skip


def _differences(study: Study, shelf: _Shelf) -> Iterable[Block]:
    data = study.record.data
    if isinstance(data, CompareRecord):
        yield from shelf.take("differences")
        for item in data.comparisons:
            yield Folded(f"Table: every difference of {item.name}", [grids.differences_grid(item)])


def _protection(study: Study, shelf: _Shelf) -> Iterable[Block]:
    if study.record.kind == "contest":
        return
    yield Prose([CAUTION], "caution")
    yield from shelf.take("take-and-wallets", "protection")


def _depends(study: Study, shelf: _Shelf) -> Iterable[Block]:
    found = study.record.sensitivity
    if found is not None:
        yield from shelf.take("ranking")
        yield Folded("Table: every number that was moved", [grids.ranking_grid(found)])
    elif study.record.kind in ("sweep", "run"):
        yield Prose([
            "Which numbers the answer depends on was not studied. To find out: ",
            Code(commands.depends_on(study), command=True), ", then ",
            Code("venue report RESULTS --sensitivity sensitivity", command=True), ".",
        ])  # fmt: skip
    counts = ", ".join(
        f"{count} {source}" for source, count in sorted(origins(study).items(), key=lambda item: -item[1])
    )
    yield Prose([f"Where the scenario's numbers come from: {counts}."])
    yield Folded("Table: every number with its origin", [grids.numbers_grid(study)])


def _was_run(study: Study, _shelf: _Shelf) -> Iterable[Block]:
    return what_was_run(study)


_ORDER: tuple[tuple[str, str, Maker], ...] = (
    ("how-sure", "How sure, at what cost, and what next", _advice),
    ("settings", "The figures", _settings),
    ("trade-off", "The trade-off: take against fairness", _trade_off),
    ("differences", "What differs", _differences),
    ("take", "Where and when the credits come in", _take),
    ("retention", "Do people come back?", _retention),
    ("fairness", "Is it fair?", _fairness),
    ("belief", "What visitors believe, and what is true", _belief),
    ("leaving", "Why people left", _leaving),
    ("rules", "What each rule does", _rules),
    ("protection", "Who may be hurt", _protection),
    ("depends-on", "What the answer depends on", _depends),
    ("run", "What was run", _was_run),
)
