"""What a sweep says: the recommendation, its ties, the requirements, the course of a measure over the settings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from venue.report.columns import short
from venue.report.quantities import half, percent, places_of, shown, span, written
from venue.report.sentences.intervals import WHERE_MEAN
from venue.report.sentences.parts import NO_SURE_CHANGE, Name, Part, Quantity, Sentence, listed, scaled
from venue.study import point as studied
from venue.study.findings import (
    SweepFindings,
)
from venue.study.floor_records import SweepRecord
from venue.study.intervals import Estimate
from venue.study.point import Place, value_of
from venue.study.registry import FAIR, MEASURES, TAKE
from venue.study.results import SweepResult

_NAME, _LABEL = 64, 20
_MOST_NAMED = 6


@dataclass(frozen=True)
class Settings:
    """What sentences on a sweep are made from: the same of results just computed and of a record that was read.

    Attributes
    ----------
    findings
        What may be said.
    at
        Keys and values of each setting.
    measures
        The venue's measures at each.
    against
        The same less the recommended setting's, in pairs, where one is recommended.
    units
        Units of measures.
    """

    findings: SweepFindings
    at: tuple[Place, ...]
    measures: tuple[Mapping[str, Estimate], ...]
    against: tuple[Mapping[str, Estimate], ...]
    units: Mapping[str, str]

    @classmethod
    def of_result(cls, result: SweepResult) -> Settings:
        """Of results just computed."""
        best = result.best_point
        against = tuple(
            {} if best is None or point is best
            else {name: item for name in MEASURES if (item := studied.difference(point, best, name)) is not None}
            for point in result.points
        )  # fmt: skip
        money = result.loaded.scenario.venue.money
        units = {name: measure.unit_in(money) for name, measure in MEASURES.items()}
        measures = tuple(point.measures() for point in result.points)
        return cls(result.findings, tuple(point.where for point in result.points), measures, against, units)

    @classmethod
    def of_record(cls, record: SweepRecord) -> Settings:
        """Of a record."""
        points = record.points
        return cls(
            record.findings,
            tuple(tuple(item.at.items()) for item in points),
            tuple({name: level.estimate for name, level in item.measures.items()} for item in points),
            tuple({name: level.estimate for name, level in item.against_best.items()} for item in points),
            {name: level.unit for item in points for name, level in item.measures.items()},
        )

    @cached_property
    def by_strength(self) -> bool:
        """Whether it is the strength alone that is swept."""
        return all(tuple(key for key, _ in at) == ("strength",) for at in self.at)

    @property
    def aim(self) -> str:
        """The measure that settings are ranked by."""
        return self.findings.aim

    @property
    def earns(self) -> str:
        """What a setting does to have most of it: `takes`, or `brings` where it is not the take that counts."""
        return "takes" if self.aim in (TAKE, "take_per_week") else "brings"

    @property
    def aim_unit(self) -> str:
        """The unit of what settings are ranked by, after a figure."""
        return " " + self.units.get(self.aim, MEASURES[self.aim].unit)

    @property
    def aim_named(self) -> str:
        """What settings are ranked by, where it has to be said: nothing for the take."""
        return "" if self.aim in (TAKE, "take_per_week") else f" in {MEASURES[self.aim].label}"

    @property
    def word(self) -> str:
        """What a setting is called."""
        return "strength" if self.by_strength else "setting"

    def label(self, place: int) -> str:
        """A setting's values, as `0.5` or `3, 0.5`."""
        return ", ".join(value_of(value) for _, value in self.at[place])

    def named(self, place: int) -> Part:
        """A setting in a sentence: `catch-up strength 0.5`, or its keys and values."""
        if self.by_strength:
            return f"catch-up strength {self.label(place)}"
        return Name(short(", ".join(f"{key} {value_of(value)}" for key, value in self.at[place]), _NAME))

    def labelled(self, place: int) -> Part:
        """A setting in a sentence that named its keys already."""
        return self.label(place) if self.by_strength else Name(short(self.label(place), _NAME))


def _settings(view: Settings, places: Sequence[int], last: str = "and") -> Sentence:
    named = [view.labelled(place) for place in places[:_MOST_NAMED]]
    more = len(places) - len(named)
    return listed([*named, f"{more} others"] if more else named, last)


# -- the recommendation ----------------------------------------------------------------------------------------------


def recommended(view: Settings) -> Sentence:
    """What to run at: a range, a list, one setting, or none."""
    found, count = view.findings, len(view.at)
    if found.recommended is None or found.tie is None:
        return (f"none of the {count} {view.word}s tried can be recommended.",)
    if count == 1:
        return (view.named(found.recommended), " is the only one that was tried.")
    if found.reason == "same take everywhere":
        return (f"any {view.word}", *_that_keep(view), f" will do: the {_what(view)} is the same at each.")
    tie = found.tie
    if len(tie.places) == 1:
        rest = (
            f"no other surely {view.earns} more"
            if found.chance_right is None
            else f"every other surely {view.earns} less"
        )
        rest = f"; {rest}" if not found.refused else f"; {rest}, or does not surely keep the requirements"
        if found.reason == "assured":
            rest = ", by a choice that is as sure as was asked"
        return ("run at ", view.named(found.recommended), f". It {view.earns} the most{view.aim_named}{rest}.")
    if tie.lowest is not None and tie.highest is not None:
        words: Sentence = ("anything from ", view.named(tie.lowest), " to ", view.labelled(tie.highest), " will do")
    elif len(tie.places) == count:
        words = (f"any of the {count} {view.word}s tried will do",)
    elif len(tie.places) <= _MOST_NAMED:
        first, *others = tie.places
        words = (*listed([view.named(first), *(view.labelled(place) for place in others)], "or"), " will do")
    else:
        words = (f"{len(tie.places)} of the {count} will do, ", view.named(found.recommended), " among them")
    return (*words, f". Their {_what(view, 's')} cannot be told apart.")


def _what(view: Settings, several: str = "") -> str:
    """What settings are ranked by, in a sentence: the take, or what its measure is called."""
    return f"take{several}" if view.aim in (TAKE, "take_per_week") else MEASURES[view.aim].label


def _that_keep(view: Settings) -> Sentence:
    return (" that keeps the requirements",) if view.findings.refused else ()


def most_lost(view: Settings) -> Sentence:
    """What a choice among ties can cost at most; nothing where there are none."""
    tie = view.findings.tie
    if tie is None or math.isnan(tie.most_lost):
        return ()
    lost = max(tie.most_lost, 0.0)
    figure = written(lost, MEASURES[view.aim].digits)
    return (f"The worst of them {view.earns} at most ", Quantity(figure, lost), f"{view.aim_unit} less.")


def against_today(view: Settings) -> Sentence:
    """What moving from today's setting to the recommended one changes."""
    found = view.findings
    today = found.today
    if today is None or found.recommended is None or len(view.at) < 2 or today.standing == "alone":
        return ()
    name = view.labelled(today.place)
    alone = found.tie is None or len(found.tie.places) == 1
    if today.standing == "recommended" and alone:
        return ("Today's ", name, " is already that one: nothing to change.")
    if today.standing in ("recommended", "tied"):
        return ("Today's ", name, " is one of them: nothing to change.")
    why = f"surely {view.earns} less" if today.standing == "behind" else "does not surely keep the requirements"
    gain, level = today.gain, view.measures[today.place].get(view.aim)
    if gain is None or level is None or not level.mean:
        return ("Today's ", name, f" {why}.")
    more = scaled(gain.estimate, 100 / abs(level.mean))
    by = Quantity(f"{half(more, '', '+')} %", more.mean)
    return ("Today's ", name, f" {why}: moving changes the {_what(view)} by ", by, ".")


def fairer(view: Settings) -> Sentence:
    """What to choose where fairness is to decide between ties in take; nothing if none is surely fairer."""
    place = view.findings.fairer
    if place is None:
        return ()
    fair = view.against[place][FAIR]
    more = scaled(fair, 100)
    return (
        "If fairness is to decide, take ", view.labelled(place), ": the better side wins ",
        Quantity(half(more), fair.mean), " more contests in a hundred.",
    )  # fmt: skip


def takes(view: Settings, place: int) -> Sentence:
    """What a setting earns, with its interval."""
    level = view.measures[place][view.aim]
    between = span(level)
    return (
        "By its mean ", view.labelled(place), f" {view.earns} the most: ", Quantity(shown(level), level.mean),
        view.aim_unit, f" (95 % interval, {WHERE_MEAN}: {between})." if between else ".",
    )  # fmt: skip


def how_sure(view: Settings) -> Sentence:
    """What the choice may give up, and the chance that it is the best one; or what an assurance says instead."""
    found = view.findings
    if found.recommended is None or len(view.at) < 2:
        return ()
    if found.chance_right is None:
        return ("One replication cannot say how sure that is.",)
    if found.reason == "assured":
        return ("With a chance of at least ", Quantity(f"{found.chance_right:g}", found.chance_right),
                " no other takes more by what was named as worth a difference.")  # fmt: skip
    best: Sentence = (
        "The chance that ", view.labelled(found.recommended), f" is the very best of the {len(view.at)} is ",
        Quantity(percent(found.chance_right, 0), found.chance_right), ".",
    )  # fmt: skip
    return (*given_up(view), " ", *best) if found.given_up else best


def given_up(view: Settings) -> Sentence:
    """What the choice gives up against whichever is truly best, on average over what is not known."""
    lost = view.findings.given_up
    chosen = view.findings.recommended
    if lost is None or chosen is None or len(view.at) < 2:
        return ()
    digits = MEASURES[view.aim].digits
    expected = f"{lost.expected:.{digits + 1}f}"
    return (
        "Choosing ", view.labelled(chosen), " gives up ", Quantity(expected, lost.expected),
        f"{view.aim_unit} on average against the one that is truly best; with a chance of ",
        Quantity(percent(lost.chance_within, 0), lost.chance_within), f" no more than {written(lost.worth, digits)}.",
    )  # fmt: skip


def told_apart(view: Settings) -> Sentence:
    """By what settings are told apart."""
    tie = view.findings.tie
    if tie is None or len(tie.places) < 2:
        return ()
    return (f"Ties are judged by intervals that hold for all {len(view.at)} together (wider than those of a table).",)


def chosen_by_the_same(view: Settings) -> Sentence:
    """That differences from the recommended setting look larger than they are, since the same runs chose it."""
    if view.findings.recommended is None or len(view.at) < 3:
        return ()
    return ("The recommended one was chosen by these same runs, so its lead over any other looks a little larger than "
            "it is.",)  # fmt: skip


def doubt(view: Settings) -> Sentence:
    """What speaks against the recommended setting most, where it is not sure."""
    rival = view.findings.rival
    if rival is None:
        return ()
    if rival.place is None or rival.behind is None:
        return ("A requirement is only just kept there.",)
    name, behind = view.labelled(rival.place), rival.behind.estimate
    less = Quantity(half(behind), behind.mean)
    if rival.doubt == "rival only just misses":
        return (name, " does not keep the requirements surely enough; more replications might let it in.")
    if rival.doubt == "take less but surer":
        return (name, f" {view.earns} ", less, " less, but a requirement is only just kept by the recommended one.")
    return (
        name,
        f" {view.earns} ",
        less,
        f"{view.aim_unit} less: either will do, or more replications tell them apart.",
    )


# -- requirements ----------------------------------------------------------------------------------------------------


def requirements(view: Settings) -> list[Sentence]:
    """How the recommended setting keeps what was required, what others do not, and why none is recommended."""
    found, word = view.findings, view.word
    if found.reason == "nothing to judge by":
        return [(f"No replication could tell enough of every {word} to judge it.",)]
    unjudged: list[Sentence] = [
        (f"{item.measure} could not be judged: no replication could tell it.",)
        for item in found.requirements if item.places is None
    ]  # fmt: skip
    judged = [item for item in found.requirements if item.places is not None]
    if found.recommended is None:
        beyond: list[Sentence] = []
        for item in judged:
            if not item.places and item.nearest is not None:
                ends = ("least", "above its maximum") if item.most else ("most", "below its minimum")
                beyond.append((
                    f"{item.measure} reaches ", Quantity(f"{item.reached:.3f}", item.reached), f" at {ends[0]}, at ",
                    view.named(item.nearest), f", {ends[1]} of {item.bound:g}.",
                ))  # fmt: skip
        none: Sentence = (f"Each requirement is kept by some {word}, but no {word} keeps all of them.",)
        return [*(beyond or [none]), *unjudged]
    at = found.recommended
    kept = [
        f"{item.measure} {view.measures[at][item.measure].mean:.3f} ({'maximum' if item.most else 'minimum'} "
        f"{item.bound:g})"
        for item in judged if item.measure in view.measures[at]
    ]  # fmt: skip
    told: list[Sentence] = []
    sure = percent(found.surely, 0)
    if kept:
        whose = "It keeps" if found.refused else f"Every {word} keeps"
        told.append((f"{whose} the requirements with a chance of at least {sure}: {', '.join(kept)}.",))
    if found.refused:
        verb = "do" if len(found.refused) > 1 else "does"
        told.append((*_settings(view, found.refused), f" {verb} not keep them as surely."))
    return [*told, *unjudged]


# -- the course of a measure ------------------------------------------------------------------------------------------

_WAYS = {
    "rises": ", rising",
    "falls": ", falling",
    "both": ", up and down",
    "differs": ": settings differ",
    "flat": f": {NO_SURE_CHANGE}",
    "same": ": always the same",
    "unknown": f": {NO_SURE_CHANGE}",
}


def course(view: Settings, measure: str, what: str) -> Sentence:
    """How a measure goes from the first setting to the last, in one line."""
    known = [place for place, levels in enumerate(view.measures) if measure in levels]
    if not known:
        return (what,)
    way = _WAYS[view.findings.measures[measure].direction] if len(known) > 1 else ""
    return (f"{what}{way}: ", *_figures(view, measure, [known[0], known[-1]] if len(known) > 1 else known))


def take_course(view: Settings) -> Sentence:
    """What the settings differ in, in take, in one line."""
    known = [place for place, levels in enumerate(view.measures) if TAKE in levels]
    if not known:
        return ("Take",)
    direction = view.findings.measures[TAKE].direction
    most = max(known, key=lambda place: view.measures[place][TAKE].mean)
    least = min(known, key=lambda place: view.measures[place][TAKE].mean)
    if direction == "same":
        return (f"Every {view.word} takes the same: ", *_figures(view, TAKE, [most]))
    figures = _figures(view, TAKE, [most] if most == least else [most, least])
    head = (
        f"No {view.word} surely takes more"
        if len(known) > 1 and direction in ("flat", "unknown")
        else "Credits an hour"
    )
    return (f"{head}: ", *figures)


def _figures(view: Settings, measure: str, places: Sequence[int]) -> Sentence:
    """Figures at some settings, with the digits that the least sure deserves: `34.1 % at 0, 31.0 % at 2`."""
    unit = view.units.get(measure, "")
    told = [(place, view.measures[place][measure]) for place in places]
    digits = min(places_of(level, unit) for _, level in told)
    parts: list[Part] = []
    for place, level in told:
        parts += [", "] if parts else []
        label = short(view.label(place), _LABEL)
        parts += [Quantity(shown(level, unit, places=digits), level.mean), " at ",
                  label if view.by_strength else Name(label)]  # fmt: skip
    return tuple(parts)
