"""One title studied without a floor: exact results, averaged over the skills that the scenario's people bring."""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from venue import __version__
from venue.contest.apart import Apart, take_apart
from venue.contest.results import Headline, MatchUps, headlines, spread
from venue.contest.setting import Player, Setting
from venue.contest.trailing import Trailing, where_trailing_pays
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.study.study import check_strengths
from venue.threads import one_thread


@dataclass(frozen=True)
class TitleResult:
    """Exact results of a title.

    Attributes
    ----------
    loaded
        The resolved scenario.
    title
        Key of the title.
    match_ups
        The skill gaps averaged over.
    spread
        Standard deviation of the final margin between equal sides without any rule, in points.
    headlines
        Results by strength.
    """

    loaded: Loaded
    title: str
    match_ups: MatchUps
    spread: float
    headlines: tuple[Headline, ...]

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Headline results, a row a strength."""
        rows = [
            {key: value for key, value in asdict(item).items() if key not in ("owed", "margin")}
            for item in self.headlines
        ]
        return pd.DataFrame(rows).set_index("strength")

    @cached_property
    def owed(self) -> pd.DataFrame:
        """Points a contest owed to each rule: columns rule, side_a, side_b; a row a strength and rule."""
        rows = [
            {"strength": item.strength, "rule": rule, "side_a": a, "side_b": b}
            for item in self.headlines
            for rule, (a, b) in item.owed.items()
        ]
        return pd.DataFrame(rows, columns=["strength", "rule", "side_a", "side_b"])

    @property
    def strength(self) -> float:
        """The strength at which rules are taken apart: the one the scenario would be run at."""
        return self.loaded.scenario.study.strength

    @cached_property
    def apart(self) -> Apart:
        """What each rule does, at `strength`."""
        off = frozenset(self.loaded.scenario.study.switches_off)
        return take_apart(self.loaded.scenario.titles[self.title], self.match_ups, self.strength, off)

    @cached_property
    def trailing(self) -> Trailing:
        """Where a side would do better to be a point further behind, at `strength` and the mean gap of skills."""
        off = frozenset(self.loaded.scenario.study.switches_off)
        setting = Setting(self.strength, self.match_ups.mean, "visitor", self.match_ups.side_b, off)
        with one_thread():
            return where_trailing_pays(self.loaded.scenario.titles[self.title], setting)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue contest --json` prints it."""
        points = []
        for item in self.headlines:
            plain = asdict(item)
            plain["skill_edge"] = None if math.isnan(item.skill_edge) else item.skill_edge
            plain["owed"] = {rule: {"side_a": a, "side_b": b} for rule, (a, b) in item.owed.items()}
            plain["margin"] = [{"points": points, "chance": chance} for points, chance in item.margin.items()]
            points.append(plain)
        return {
            "scenario": self.loaded.source,
            "version": __version__,
            "title": self.title,
            "match_ups": asdict(self.match_ups),
            "spread_unaided": self.spread,
            "points": points,
            "apart": {
                "strength": self.strength,
                "whole": _short(self.apart.whole),
                "bare": _short(self.apart.bare),
                "without": {rule: _short(item) for rule, item in self.apart.without.items()},
                "alone": {rule: _short(item) for rule, item in self.apart.alone.items()},
                "switched_off": _short(self.apart.switched_off),
                "stays_on": list(self.apart.stays_on),
            },
            "trailing_pays": {
                "holding_back": self.trailing.holding_back,
                "faults": [asdict(fault) for fault in self.trailing.faults],
            },
        }


def _short(item: Headline) -> dict[str, float]:
    return {name: getattr(item, name) for name in ("better_side_wins", "close_finishes", "margin_sd", "assisted")}


def title_result(
    loaded: Loaded,
    title: str | None = None,
    strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    gap: float | None = None,
) -> TitleResult:
    """Exact results of one title of a scenario at each strength.

    Raises
    ------
    InputError
        If there is no such title, or several and none was named.
    """
    scenario = loaded.scenario
    key = _the_title(loaded, title)
    check_strengths(strengths)
    if gap is not None and not -20 <= gap <= 20:
        raise InputError(f"gap = {gap:g}: must lie between -20 and 20 log-odds; 0.4 takes an even chance to 60 %")
    match_ups = match_ups_of(loaded, key) if gap is None else MatchUps(gap, 0.0, _opposite(loaded, key))
    found = headlines(scenario.titles[key], match_ups, strengths, frozenset(scenario.study.switches_off))
    return TitleResult(loaded, key, match_ups, spread(scenario.titles[key]), tuple(found))


def match_ups_of(loaded: Loaded, title: str) -> MatchUps:
    """Skill gaps at a title as newcomers bring them, before practice."""
    skill = loaded.scenario.people.skill
    if _opposite(loaded, title) == "visitor":
        return MatchUps(0.0, skill.sd * math.sqrt(2.0), "visitor")
    return MatchUps(skill.mean - loaded.scenario.titles[title].opponent, skill.sd, "computer")


def _opposite(loaded: Loaded, title: str) -> Player:
    """Who sits opposite at the first machines that play a title."""
    seats = next(machine.seats for machine in loaded.scenario.machines.values() if machine.title == title)
    return "visitor" if seats == 2 else "computer"


def _the_title(loaded: Loaded, title: str | None) -> str:
    known = list(loaded.scenario.titles)
    if title is None:
        if len(known) == 1:
            return known[0]
        if not known:
            raise InputError(f"{loaded.source}: titles: there is none; a contest needs a [titles.NAME]")
        raise InputError(f"{loaded.source}: titles: there are {len(known)}; name one with --title {' or '.join(known)}")
    if title not in known:
        near = difflib.get_close_matches(title, known, n=1, cutoff=0.5)
        hint = f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known) or 'none'}"
        raise InputError(f'{loaded.source}: titles: has no "{title}"; {hint}')
    return title
