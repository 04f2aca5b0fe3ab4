"""One title studied without a floor: exact results, averaged over the skills that the scenario's people bring."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from venue import __version__
from venue.contest.ablation import Apart, take_apart
from venue.contest.best_play import BestPlay, Gain, best_play
from venue.contest.forms import solve, unaided_spread
from venue.contest.incentives import Trailing, where_trailing_pays
from venue.contest.match import Match
from venue.contest.overlap import overlaps
from venue.contest.realised_rates import ByMargin, Rate, by_margin, rates
from venue.contest.results import Field, Headline, MatchUps, field, headline, headline_of, unaided_edge
from venue.contest.watch import Event, Playing
from venue.contest.win_probability import Unfolded, unfold
from venue.errors import InputError
from venue.scenario.load import Loaded
from venue.scenario.title import Title
from venue.scenario.words import nearest
from venue.streams import Streams
from venue.study.findings import BestPlayFound, ContestFindings, MoveFound
from venue.study.line_ups import NEWCOMERS, Against, LineUp, design_of, line_ups_of, match_ups_of
from venue.study.strengths import check_strengths
from venue.study.title_records import ContestRecord
from venue.threads import one_thread

if TYPE_CHECKING:
    import pandas as pd

# Attempts a contest below which a margin tells nothing.
_RAREST = 1e-6


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
    fields
        The title over all its match-ups, by strength.
    edge
        By how much the better side's wins exceed one half at strength 0.
    headlines
        Results by strength.
    against
        Whom it was asked to be studied against.
    """

    loaded: Loaded
    title: str
    match_ups: MatchUps
    fields: dict[float, Field]
    edge: float
    headlines: tuple[Headline, ...]
    against: Against = NEWCOMERS

    @property
    def design(self) -> Title:
        """The title as the scenario has it."""
        return design_of(self.loaded, self.title, self.against)

    @property
    def switches_off(self) -> frozenset[str]:
        """Operator switches that are off."""
        return frozenset(self.loaded.scenario.study.switches_off)

    @cached_property
    def spread(self) -> float:
        """Standard deviation of the final margin between equal sides without any rule, in points."""
        with one_thread():
            return unaided_spread(self.design)

    @cached_property
    def measures(self) -> pd.DataFrame:
        """Headline results, a row a strength."""
        import pandas as pd

        rows = [
            {key: value for key, value in asdict(item).items() if key not in ("owed", "margin")}
            for item in self.headlines
        ]
        return pd.DataFrame(rows).set_index("strength")

    @cached_property
    def owed(self) -> pd.DataFrame:
        """Points a contest owed to each rule: columns rule, side_a, side_b; a row a strength and rule."""
        import pandas as pd

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
    def whole(self) -> Field:
        """The title over all its match-ups at `strength`."""
        known = self.fields.get(self.strength)
        return known or field(self.design, self.match_ups, self.strength, self.switches_off)

    @cached_property
    def apart(self) -> Apart:
        """What each rule does, at `strength`."""
        whole = headline(self.design, self.whole, self.edge)
        return take_apart(self.design, self.match_ups, whole, self.edge, self.switches_off)

    @property
    def match(self) -> Match:
        """The title at `strength` and the mean gap of skills."""
        return Match(self.strength, self.match_ups.mean, "visitor", self.match_ups.side_b, self.switches_off)

    @cached_property
    def trailing(self) -> Trailing:
        """Where a side would do better to be a point further behind, in `match`."""
        with one_thread():
            return where_trailing_pays(self.design, self.match)

    @cached_property
    def best_play(self) -> BestPlay:
        """What the moves of side A gain, in `match`."""
        with one_thread():
            return best_play(self.design, self.match)

    @cached_property
    def findings(self) -> ContestFindings:
        """What may be said of it."""
        found, faults = self.best_play, self.trailing.faults
        with one_thread():
            bare = found.together_bare
        best = BestPlayFound(
            play="race" if self.design.race else self.design.play,
            side_a_wins=found.side_a_wins,
            moves=tuple(MoveFound(move=item.moves[0], gain=item.gain) for item in found.alone),
            together=found.together.gain,
            without_rules=bare,
        )
        return ContestFindings(trailing_pays=bool(faults), scores=len(faults), best_play=best)

    def _gain(self, item: Gain) -> dict[str, Any]:
        """What some moves gain, where, and the rules without which it is gone, as plain data."""
        where: dict[str, Any] = dict.fromkeys(("left", "margin", "share", "earliest", "latest"))
        alone = item.moves[0] if len(item.moves) == 1 else None
        with one_thread():
            blame = self.best_play.blame.get(alone, ()) if alone else ()
            bare = self.best_play.bare[alone] if alone else None
        return {
            "moves": item.moves,
            "gain": item.gain,
            **(asdict(item.where) if item.where else where),
            "without_rules": bare,
            "blame": blame,
        }

    @cached_property
    def by_margin(self) -> list[ByMargin]:
        """Attempts and successes by kind, side and margin, at `strength`."""
        return by_margin(self.design, self.whole)

    @cached_property
    def rates(self) -> list[Rate]:
        """Coded against effective chances by kind, side and margin band, at `strength`."""
        return rates(self.design, self.by_margin)

    @cached_property
    def unfolded(self) -> Unfolded:
        """Chance to win and safety of a lead at every moment, in `match`."""
        with one_thread():
            return unfold(solve(self.design, self.match))

    @cached_property
    def span(self) -> tuple[int, int]:
        """Smallest and largest margin computed, over all strengths."""
        margins = [list(item.margin) for item in self.headlines]
        return min(item[0] for item in margins), max(item[-1] for item in margins)

    @cached_property
    def overlaps(self) -> list[tuple[str, str]]:
        """Pairs of rules that may cover the same attempt, where the greater lift acts."""
        return overlaps(self.design)

    @cached_property
    def line_ups(self) -> tuple[LineUp, ...]:
        """Every line-up that the floor makes of the title; none where it was asked to be studied against another."""
        return line_ups_of(self.loaded, self.title) if self.against == NEWCOMERS else ()

    @cached_property
    def by_line_up(self) -> tuple[Headline, ...]:
        """The same results for each of `line_ups`, at `strength`."""
        if not self.line_ups:
            return ()
        # The first is what all other results are of.
        known = {(self.match_ups, self.line_ups[0].difficulty): headline(self.design, self.whole, self.edge)}
        for line_up in self.line_ups:
            at = line_up.match_ups, line_up.difficulty
            if at not in known:
                design = self.loaded.scenario.titles[self.title].at(line_up.difficulty)
                edge = unaided_edge(design, line_up.match_ups, self.switches_off)
                known[at] = headline_of(design, line_up.match_ups, self.strength, edge, self.switches_off)
        return tuple(known[line_up.match_ups, line_up.difficulty] for line_up in self.line_ups)

    @cached_property
    def ladder(self) -> list[float]:
        """Chance to win for a visitor of mean skill at each rung of the ladder, the first being the floor's own."""
        ladder = self.design.ladder
        if ladder is None or self.match_ups.side_b != "computer":
            return []
        with one_thread():
            return [solve(self.design, self._harder(ladder.step * rung)).win_chance for rung in range(ladder.rungs + 1)]

    def _harder(self, skill: float) -> Match:
        match = self.match
        return Match(match.strength, match.gap - skill, match.side_a, match.side_b, match.switches_off)

    def taken_apart(self) -> dict[str, Any]:
        """The title rule by rule at `strength`, as plain data."""
        return {
            "strength": self.strength,
            "whole": _short(self.apart.whole),
            "bare": _short(self.apart.bare),
            "without": {rule: _short(item) for rule, item in self.apart.without.items()},
            "alone": {rule: _short(item) for rule, item in self.apart.alone.items()},
            "switched_off": _short(self.apart.switched_off),
            "stays_on": list(self.apart.stays_on),
            "may_meet": [list(pair) for pair in self.overlaps],
        }

    @cached_property
    def record(self) -> ContestRecord:
        """All of it as plain data, typed."""
        points = []
        for item in self.headlines:
            plain = {key: None if _is_nan(value) else value for key, value in asdict(item).items()}
            plain["owed"] = {rule: {"side_a": a, "side_b": b} for rule, (a, b) in item.owed.items()}
            plain["margin"] = [{"points": points, "chance": chance} for points, chance in item.margin.items()]
            points.append(plain)
        found = {
            "kind": "contest",
            "scenario": self.loaded.source,
            "version": __version__,
            "title": self.title,
            "form": self.design.form,
            "match_ups": asdict(self.match_ups),
            "margins_from": self.span[0],
            "margins_to": self.span[1],
            "spread_unaided": self.spread,
            "points": points,
            "apart": self.taken_apart(),
            "coded_and_effective": [
                {
                    "attempt": rate.attempt,
                    "side": "AB"[rate.side],
                    "behind_from": rate.low,
                    "behind_to": rate.high,
                    "written": rate.written,
                    "effective": rate.effective,
                    "ratio": None if _is_nan(rate.ratio) else rate.ratio,
                    "tried_a_contest": rate.tried,
                }
                for rate in self.rates
            ],
            "attempts_by_margin": [_by_margin(item) for item in self.by_margin],
            "trailing_pays": {"faults": [asdict(fault) for fault in self.trailing.faults]},
            "best_play": {
                "searched": self.best_play.searched,
                "alone": [self._gain(item) for item in self.best_play.alone],
                "together": self._gain(self.best_play.together),
            },
            "moments": {
                "left_in": "points" if self.unfolded.in_points else "seconds",
                "left": self.unfolded.left.tolist(),
                "margins": self.unfolded.margins.tolist(),
                "side_a_wins": _table(self.unfolded.win),
                "lead_lasts": _table(self.unfolded.lasts),
            },
            "ladder": self.ladder,
            "line_ups": [
                {
                    "machines": list(line_up.machines),
                    "side_a": line_up.visitors[0],
                    "side_b": line_up.visitors[1],
                    "seats_a": line_up.seats[0],
                    "seats_b": line_up.seats[1],
                    "difficulty": line_up.difficulty,
                    "weight": line_up.weight,
                    "match_ups": asdict(line_up.match_ups),
                    "results": _short(item),
                }
                for line_up, item in zip(self.line_ups, self.by_line_up, strict=True)
            ],
            "findings": self.findings,
        }
        return ContestRecord.model_validate(found)

    def to_dict(self) -> dict[str, Any]:
        """Plain data, as `venue contest --json` prints it."""
        return self.record.plain()


def _by_margin(item: ByMargin) -> dict[str, Any]:
    """Attempts and successes of one kind and side at the margins where there are any, as plain data."""
    often = (item.tried > _RAREST).nonzero()[0].tolist()
    return {
        "attempt": item.attempt,
        "side": "AB"[item.side],
        "written": item.written,
        "behind": [int(item.behind[place]) for place in often],
        "tried": [round(float(item.tried[place]), 9) for place in often],
        "made": [round(float(item.made[place]), 9) for place in often],
    }


def _is_nan(value: Any) -> bool:
    return isinstance(value, float) and math.isnan(value)


def _table(values: Any) -> list[list[float | None]]:
    return [[None if math.isnan(value) else round(value, 9) for value in row] for row in values.tolist()]


_SHORT = (
    "side_a_wins", "better_side_wins", "skill_edge", "close_finishes", "lead_changes", "comebacks", "margin_sd",
    "assisted",
)  # fmt: skip


def _short(item: Headline) -> dict[str, float | None]:
    found = {name: getattr(item, name) for name in _SHORT}
    return {name: None if math.isnan(value) else value for name, value in found.items()}


def title_result(
    loaded: Loaded,
    title: str | None = None,
    strengths: Sequence[float] = (0.0, 0.5, 1.0, 1.5, 2.0),
    against: Against = NEWCOMERS,
) -> TitleResult:
    """Exact results of one title of a scenario at each strength.

    Raises
    ------
    InputError
        If there is no such title, or several and none was named.
    """
    key = the_title(loaded, title)
    check_strengths(strengths)
    match_ups = match_ups_of(loaded, key, against)
    design, off = design_of(loaded, key, against), frozenset(loaded.scenario.study.switches_off)
    fields = {strength: field(design, match_ups, strength, off) for strength in dict.fromkeys((0.0, *strengths))}
    edge = fields[0.0].better_side_wins() - 0.5
    found = tuple(headline(design, fields[strength], edge) for strength in strengths)
    return TitleResult(loaded, key, match_ups, fields, edge, found, against)


def watch(loaded: Loaded, title: str | None = None, against: Against = NEWCOMERS) -> list[Event]:
    """One contest played out by chance, from the scenario's seed, at its strength; skills are the mean ones."""
    key = the_title(loaded, title)
    draws = Streams(loaded.scenario.study.seed, 0).uniforms("watch", 0)
    with one_thread():
        return list(Playing(design_of(loaded, key, against), match_of(loaded, key, against), draws).events())


def match_of(loaded: Loaded, title: str, against: Against = NEWCOMERS) -> Match:
    """One contest of a title at the scenario's strength, between the mean skills or as `against` asks."""
    match_ups, study = match_ups_of(loaded, title, against), loaded.scenario.study
    return Match(study.strength, match_ups.mean, "visitor", match_ups.side_b, frozenset(study.switches_off))


def head_of(loaded: Loaded, title: str, match: Match) -> dict[str, Any]:
    """What an answer about a title on the spot begins with; see `venue.study.title_records.OnTheSpot`."""
    return {
        "scenario": loaded.source, "version": __version__, "title": title, "strength": match.strength,
        "gap": match.gap, "side_b": match.side_b,
    }  # fmt: skip


def the_title(loaded: Loaded, title: str | None) -> str:
    """The key of the title asked for, or of the only one.

    Raises
    ------
    InputError
        If there is no such title, or several and none was named.
    """
    known = list(loaded.scenario.titles)
    if title is None:
        if len(known) == 1:
            return known[0]
        if not known:
            raise InputError(f"{loaded.source}: titles: there is none; a contest needs a [titles.NAME]")
        raise InputError(f"{loaded.source}: titles: there are {len(known)}; name one with --title {' or '.join(known)}")
    if title in loaded.scenario.machines and title not in known:
        played = loaded.scenario.machines[title].title
        hint = f"its title is {played}" if played else "it has no contest"
        raise InputError(f'{loaded.source}: titles: has no "{title}", which is a machine; {hint}')
    if title not in known:
        raise InputError(f'{loaded.source}: titles: has no "{title}"; {nearest(title, known)}')
    return title
