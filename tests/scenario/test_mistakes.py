"""What a mistake in a scenario is told: one line with the key, the value as written, the bound and the likely fix."""

from __future__ import annotations

import datetime
import math
from typing import Any

import pytest

from venue.errors import ScenarioError
from venue.scenario.load import check
from venue.scenario.slots import rule_kinds
from venue.scenario.words import listed

from .building import assert_lines, changed, demo, refused, steps, table_at, without

NAN, INF, HUGE = math.nan, math.inf, 10**400
KINDS = listed(f'"{kind}"' for kind in rule_kinds())


def lines(raw: dict[str, Any]) -> list[str]:
    return [problem.line("file.toml").removeprefix("file.toml: ") for problem in refused(raw)]


UNKNOWN = [
    ("pier", "venu", 'venu: unknown key; did you mean "venue"?'),
    ("pier", "venue/nme", 'venue.nme: unknown key; did you mean "name"?'),
    ("pier", "venue/price", 'venue.price: unknown key; did you mean "credit_price"?'),
    ("pier", "venue/hours/mondey", 'venue.hours.mondey: unknown key; did you mean "monday"?'),
    ("pier", "venue/arrivals/weekdays", 'venue.arrivals.weekdays: unknown key; did you mean "weekday"?'),
    ("pier", "venue/arrivals/weekday/value/mnday", 'venue.arrivals.weekday.mnday: unknown key; did you mean "monday"?'),
    ("pier", "people/skil", 'people.skil: unknown key; did you mean "skill"?'),
    ("pier", "people/skill/practise", 'people.skill.practise: unknown key; did you mean "practice"?'),
    ("pier", "people/wallet/medain", 'people.wallet.medain: unknown key; did you mean "median"?'),
    ("pier", "people/stay/spred", 'people.stay.spred: unknown key; did you mean "spread"?'),
    ("pier", "people/patience/vary", 'people.patience.vary: unknown key; did you mean "varies"?'),
    ("pier", "people/belief/win", 'people.belief.win: unknown key; did you mean "wins"?'),
    ("pier", "people/buy_in/goon", 'people.buy_in.goon: unknown key; did you mean "go_on"?'),
    ("pier", "people/choice/restlength", 'people.choice.restlength: unknown key; did you mean "rest_length"?'),
    ("pier", "people/suspicion/halflife", 'people.suspicion.halflife: unknown key; did you mean "half_life"?'),
    ("pier", "people/come_back/delay",
     'people.come_back.delay: unknown key; did you mean "delay_median" or "delay_spread"?'),
    ("pier", "titles/tug/perods", 'titles.tug.perods: unknown key; did you mean "periods"?'),
    ("pier", "titles/tug/attempts/haul/point", 'titles.tug.attempts.haul.point: unknown key; did you mean "points"?'),
    ("pier", "titles/tug/rules/undertow/perpoint",
     'titles.tug.rules.undertow.perpoint: unknown key; did you mean "per_point"?'),
    ("pier", "titles/lantern/rules/breeze/shifts",
     'titles.lantern.rules.breeze.shifts: unknown key; did you mean "shift"?'),
    ("pier", "titles/tug/rules/last-wave/atleast",
     'titles.tug.rules.last-wave.atleast: unknown key; did you mean "at_least"?'),
    ("bar", "titles/moth/rules/draught/step", 'titles.moth.rules.draught.step: unknown key; did you mean "steps"?'),
    ("bar", "titles/moth/rules/draught/steps/1/lefft",
     'titles.moth.rules.draught.steps[item 2].lefft: unknown key; did you mean "left"?'),
    ("bar", "titles/locks/rules/rusty-hand/shfit",
     'titles.locks.rules.rusty-hand.shfit: unknown key; did you mean "shift"?'),
    ("pier", "machines/tug/prise", 'machines.tug.prise: unknown key; did you mean "price"?'),
    ("pier", "study/warmup", 'study.warmup: unknown key; did you mean "warm_up"?'),
    ("pier", "machines/tug/price_s", 'machines.tug.price_s: unknown key; did you mean "prices"?'),
    ("pier", "machines/tug/upkep", 'machines.tug.upkep: unknown key; did you mean "upkeep"?'),
    ("pier", "machines/tug/fault", 'machines.tug.fault: unknown key; did you mean "faults"?'),
    ("pier", "titles/tug/floor", "titles.tug.floor: unknown key; it is called minimum_chance now"),
    ("pier", "venue/tll", 'venue.tll: unknown key; did you mean "till"?'),
    ("pier", "limit", 'limit: unknown key; did you mean "limits"?'),
    # A key that stands in the wrong table.
    ("pier", "venue/spend_per_visit", "venue.spend_per_visit: unknown key; it belongs to [limits]"),
    ("pier", "machines/tug/mean_plays", "machines.tug.mean_plays: unknown key; it belongs to [machines.NAME.faults]"),
    ("pier", "per_hour", "per_hour: unknown key; it belongs to [venue.arrivals]"),
    ("pier", "venue/every_day",
     "venue.every_day: unknown key; it belongs to [venue.hours] or [venue.technician.hours]"),
    ("pier", "titles/tug/price",
     "titles.tug.price: unknown key; it belongs to [people.buy_in], [people.choice] or [machines.NAME]"),
    ("pier", "titles/tug/rules/undertow/when",
     'titles.tug.rules.undertow.when: unknown key; it belongs to rules of kind "closing chance"'),
    ("pier", "titles/tug/cap",
     'titles.tug.cap: unknown key; it belongs to rules of kind "slope" or "clocked slope"'),
    ("pier", "machines/tug/period_length", "machines.tug.period_length: unknown key; it belongs to [titles.NAME]"),
    # A key like nothing that is known.
    ("pier", "titles/tug/attempts/haul/zzz",
     "titles.tug.attempts.haul.zzz: unknown key; known: share, points, chance, skill, against, taken_by"),
    ("pier", "people/skill/value", "people.skill.value: unknown key; known: mean, sd, practice, practice_limit"),
    ("pier", "people/skill/odd key\n",
     r'people.skill."odd key\n": unknown key; known: mean, sd, practice, practice_limit'),
]  # fmt: skip


@pytest.mark.parametrize(("name", "path", "line"), UNKNOWN, ids=[item[1] for item in UNKNOWN])
def test_unknown_keys_fail_with_the_nearest_known_one(name: str, path: str, line: str) -> None:
    assert lines(changed(path, 0.5, name)) == [line]


WHOLE = [
    ("machines/tug/price", 0, 1_000_000), ("machines/tug/count", 1, 10_000), ("titles/tug/periods", 1, 50),
    ("titles/tug/attempts/haul/points", 1, 1000), ("study/days", 1, 36_500), ("study/seed", 0, 2**32 - 1),
    ("study/replications", 1, 1_000_000), ("machines/tug/price_to_go_on", 0, 1_000_000),
    ("titles/tug/rules/undertow/cap", 0, 1000),
]  # fmt: skip
REAL = [
    ("venue/credit_price", 0, 1_000_000), ("people/skill/sd", 0, 10), ("study/strength", 0, 100),
    ("people/skill/mean", -20, 20), ("people/buy_in/price", -1000, 1000),
    ("machines/tug/upkeep", 0, 1_000_000), ("machines/tug/floor_cost", 0, 1_000_000),
]  # fmt: skip


@pytest.mark.parametrize(("path", "low", "high"), WHOLE + REAL)
def test_a_number_out_of_bounds_is_shown_with_the_bounds(path: str, low: int, high: int) -> None:
    key = path.replace("/", ".")
    between = f"must lie between {low} and {high}"
    assert lines(changed(path, low - 1)) == [f"{key} = {low - 1}: {between}; write {low} or more"]
    assert lines(changed(path, high + 1)) == [f"{key} = {high + 1}: {between}; write {high} or less"]
    assert lines(changed(path, HUGE)) == [f"{key} = a number of 401 digits: {between}; write {high} or less"]
    assert lines(changed(path, {"value": low - 1, "from": "fitted"})) == lines(changed(path, low - 1))


@pytest.mark.parametrize(("path", "low", "high"), WHOLE)
def test_a_whole_number_is_no_other(path: str, low: int, high: int) -> None:
    key = path.replace("/", ".")
    assert lines(changed(path, 2.5)) == [f"{key} = 2.5: must be a whole number; round it"]
    assert lines(changed(path, NAN)) == [f"{key} = nan: must be a whole number; write a finite one"]
    assert lines(changed(path, INF)) == [f"{key} = inf: must be a whole number; write a finite one"]
    assert lines(changed(path, "3")) == [f'{key} = "3": must be a whole number, not text; take off the quotes, 3']
    assert lines(changed(path, True))[0].startswith(f"{key} = true: must be a whole number, not true or false; write")


@pytest.mark.parametrize(("path", "low", "high"), REAL)
def test_a_number_is_finite_and_no_text(path: str, low: int, high: int) -> None:
    key = path.replace("/", ".")
    assert lines(changed(path, NAN)) == [f"{key} = nan: must be a number; write one"]
    assert lines(changed(path, INF)) == [f"{key} = inf: must lie between {low} and {high}; write {high} or less"]
    assert lines(changed(path, -INF)) == [f"{key} = -inf: must lie between {low} and {high}; write {low} or more"]
    assert lines(changed(path, "3")) == [f'{key} = "3": must be a number, not text; take off the quotes, 3']
    assert lines(changed(path, datetime.date(2024, 5, 1)))[0].startswith(
        f"{key} = 2024-05-01: must be a number, not a date"
    )
    assert lines(changed(path, datetime.datetime(2024, 5, 1, 10)))[0].startswith(
        f"{key} = 2024-05-01 10:00:00: must be a number, not a date and time"
    )
    assert lines(changed(path, [1]))[0].startswith(f"{key} = [1]: must be a number, not a list")


VALUES: list[tuple[str, Any, str]] = [
    # units
    ("titles/tug/period_length", 45,
     'titles.tug.period_length = 45: a duration needs its unit; write "45 s" or "45 min"'),
    ("titles/tug/period_length", "5 parsecs",
     'titles.tug.period_length = "5 parsecs": unknown unit of time "parsecs"; use s, min, h, days or weeks'),
    ("people/stay/median", "0 s",
     'people.stay.median = "0 s": must be more than 0 s and at most 7 days; write more than 0 s'),
    ("people/stay/median", "-3 min",
     'people.stay.median = "-3 min": must be more than 0 s and at most 7 days; write more than 0 s'),
    ("people/patience/mean", "-3 min",
     'people.patience.mean = "-3 min": must lie between 0 s and 7 days; write 0 s or more'),
    ("people/stay/median", "1000000 weeks",
     'people.stay.median = "1000000 weeks": must be more than 0 s and at most 7 days; write 7 days or less'),
    ("titles/tug/period_length", "45.5 s",
     'titles.tug.period_length = 45.5 s: must be whole seconds, at least 1 s; write "46 s"'),
    ("titles/tug/period_length", "2 h", "titles.tug.period_length = 2 h: must be at most 1 h; split it into periods"),
    ("titles/tug/mean_attack", "0.5 s",
     'titles.tug.mean_attack = 0.5 s: must be at least 1 s, the step of the clock; write "1 s" or more'),
    # chances
    ("titles/tug/attempts/haul/chance", 50,
     'titles.tug.attempts.haul.chance = 50: must lie between 0 and 1; did you mean "50 %"?'),
    ("titles/tug/attempts/haul/chance", -0.5,
     "titles.tug.attempts.haul.chance = -0.5: must lie between 0 and 1; write 0 or more"),
    ("titles/tug/attempts/haul/chance", "150 %",
     'titles.tug.attempts.haul.chance = "150 %": must lie between 0 % and 100 %; write 100 % or less'),
    ("titles/tug/attempts/haul/chance", "50",
     'titles.tug.attempts.haul.chance = "50": not a chance; write it like 0.45 or "45 %"'),
    ("titles/tug/attempts/haul/chance", NAN,
     'titles.tug.attempts.haul.chance = nan: not a chance; write it like 0.45 or "45 %"'),
    ("titles/tug/rules/undertow/per_point", "250 pp",
     'titles.tug.rules.undertow.per_point = "250 pp": must lie between -100 pp and 100 pp; write 100 pp or less'),
    ("titles/tug/rules/undertow/per_point", True,
     'titles.tug.rules.undertow.per_point = true: not a change of chance; write it like 0.02 or "2 pp"'),
    ("study/keep_return_28d", 1.5, "study.keep_return_28d = 1.5: must lie between 0 and 1; write 1 or less"),
    # hours and arrivals
    ("venue/hours/every_day", "22:00-10:00",
     'venue.hours.every_day = "22:00-10:00": closing at "10:00" is not after opening at "22:00"; for the small hours '
     'after midnight count on, "22:00-34:00"'),
    ("venue/hours/every_day", "10-22",
     'venue.hours.every_day = "10-22": "10" is not a time of day; write it like "10:00"'),
    ("venue/hours/every_day", "always",
     'venue.hours.every_day = "always": not opening hours; write them like "10:00-22:00" or "closed"'),
    ("venue/hours/every_day", datetime.time(10, 0),
     'venue.hours.every_day = 10:00:00: not opening hours; write them like "10:00-22:00" or "closed"'),
    ("venue/hours/every_day", "10:00-40:00",
     'venue.hours.every_day = "10:00-40:00": "40:00" is no time of day, must lie between "00:00" and "36:00"; "25:00" '
     "is one in the morning after"),
    ("venue/hours/every_day", "01:00-30:00",
     'venue.hours.every_day = "01:00-30:00": a day of opening lasts at most 24 h; shorten it'),
    ("venue/hours/friday", "18:00-36:00",
     "venue.hours.friday: closes on friday after saturday has opened; close by 34:00"),
    ("venue/hours", {"every_day": "closed"}, 'venue.hours: the venue never opens; write every_day = "10:00-22:00"'),
    ("venue/hours/last_entry", "11 h",
     "venue.hours.last_entry = 11 h: must be less than the opening on monday, or nobody could enter; "
     "keep it under 11 h"),
    ("venue/arrivals/per_hour", {"10:00": INF},
     'venue.arrivals.per_hour."10:00" = inf: must lie between 0 and 100000; write 100000 or less'),
    ("venue/arrivals/per_hour", {"10:00": -1},
     'venue.arrivals.per_hour."10:00" = -1: must lie between 0 and 100000; write 0 or more'),
    ("venue/arrivals/per_hour", {"10:00": "3"},
     'venue.arrivals.per_hour."10:00" = "3": must be a number, not text; take off the quotes, 3'),
    ("venue/arrivals/per_hour", {"ten": 3},
     'venue.arrivals.per_hour: "ten" is not a time of day; write it like "10:00"'),
    ("venue/arrivals/per_hour", {"9:00": 3, "09:00": 4},
     'venue.arrivals.per_hour: names "09:00" twice; keep one of the two'),
    ("venue/arrivals/per_hour", {},
     'venue.arrivals.per_hour: is empty, must hold at least one; write it, like per_hour = { "10:00" = 6 }'),
    ("venue/arrivals/per_hour", {"10:00": 0},
     "venue.arrivals: nobody ever arrives in opening hours; give per_hour a rate above 0 for a time "
     "when the venue is open"),
    ("venue/arrivals/per_hour", {"23:45": 9},
     "venue.arrivals: nobody ever arrives in opening hours; give per_hour a rate above 0 for a time "
     "when the venue is open"),
    ("venue/arrivals/per_hour", 5,
     "venue.arrivals.per_hour = 5: must be a table; write visitors per hour from each time of day on, like "
     '{ "10:00" = 6 }'),
    # the till
    ("venue/till", {"bundles": [{"credits": 5, "price_of": 5}]},
     "venue.till.bundles[item 1]: 5 credits for the price of 5 are no bargain, price_of must be less than credits; "
     "write less, or take the bundle out"),
    ("venue/till", {"bundles": [{"credits": 5}]},
     "venue.till.bundles[item 1].price_of: is missing; add it, like price_of = 4"),
    ("venue/till", {"bundles": [{"credits": 5.5, "price_of": 4}]},
     "venue.till.bundles[item 1].credits = 5.5: must be a whole number; round it"),
    ("venue/till", {"bundles": 5},
     "venue.till.bundles = 5: must be a list, not a number; put it in brackets, [5]"),
    ("venue/till", {"card": {"bonus": 11}},
     "venue.till.card.bonus = 11: must lie between 0 and 10; write 10 or less"),
    ("venue/till", {"card": {"holders": 30}},
     'venue.till.card.holders = 30: must lie between 0 and 1; did you mean "30 %"?'),
    ("venue/till", {"unplayed": "gone"},
     'venue.till.unplayed = "gone": must be "kept" or "lost"; write one of them'),
    # prices by the clock
    ("machines/tug/prices", {"7pm": 2}, 'machines.tug.prices: "7pm" is not a time of day; write it like "10:00"'),
    ("machines/tug/prices", {"9:00": 3, "09:00": 4}, 'machines.tug.prices: names "09:00" twice; keep one of the two'),
    ("machines/tug/prices", {"17:00": -2},
     'machines.tug.prices."17:00" = -2: must lie between 0 and 1000000; write 0 or more'),
    ("machines/tug/prices", 3,
     "machines.tug.prices = 3: must be a table; write credits from each time of day on, like "
     '{ "17:00" = 3 }'),
    ("machines/shingle/prices_to_go_on", {"17:00": 2},
     "machines.shingle: a price to go on needs a title; a machine without a contest is paid once a play"),
    # limits
    ("limits", {"spend_per_visit": 2.5}, "limits.spend_per_visit = 2.5: must be a whole number; round it"),
    ("limits", {"spend_per_hour": -1},
     "limits.spend_per_hour = -1: must lie between 0 and 1000000; write 0 or more"),
    # faults and what machines cost
    ("machines/tug/faults", {"mean_plays": 0.5},
     "machines.tug.faults.mean_plays = 0.5: must lie between 1 and 1000000000; write 1 or more"),
    ("machines/tug/faults", {"mean_use": 30},
     'machines.tug.faults.mean_use = 30: a duration needs its unit; write "30 s" or "30 min"'),
    ("machines/tug/faults", {"mean_time": "0 s"},
     'machines.tug.faults.mean_time = "0 s": must be more than 0 s and at most 36500 days; write more than 0 s'),
    ("machines/tug/faults", {"jam": "80 %"},
     'machines.tug.faults.jam = "80 %": must lie between 0 % and 50 %; write 50 % or less'),
    ("venue/technician", {"count": -1},
     "venue.technician.count = -1: must lie between 0 and 1000; write 0 or more"),
    ("venue/technician", {"repair_varies": "normal"},
     'venue.technician.repair_varies = "normal": must be "fixed" or "exponential"; write one of them'),
    ("venue/technician", {"hours": {"every_day": "closed"}},
     'venue.technician.hours: the technician is never on duty; write every_day = "10:00-18:00", or count = 0 if '
     "there is none"),
    ("venue/technician", {"hours": {"mondey": "10:00-18:00"}},
     'venue.technician.hours.mondey: unknown key; did you mean "monday"?'),
    ("venue/operator_share", 60, 'venue.operator_share = 60: must lie between 0 and 1; did you mean "60 %"?'),
    ("machines/tug/operator_share", 1.5,
     "machines.tug.operator_share = 1.5: must lie between 0 and 1; write 1 or less"),
    # words
    ("titles/tug/play", "turn", 'titles.tug.play = "turn": must be "turns" or "open"; did you mean "turns"?'),
    ("titles/tug/play", 3, 'titles.tug.play = 3: must be "turns" or "open"; write one of them'),
    ("machines/tug/seats", 5,
     "machines.tug.seats = 5: must be 1, 2, 3 or 4; write 1 against the computer, 2 to 4 for seats on two sides"),
    ("machines/tug/seats", True,
     "machines.tug.seats = true: must be 1, 2, 3 or 4; write 1 against the computer, 2 to 4 for seats on two sides"),
    ("machines/tug/seats", HUGE,
     "machines.tug.seats = a number of 401 digits: must be 1, 2, 3 or 4; write 1 against the computer, "
     "2 to 4 for seats on two sides"),
    ("titles/tug/rules/last-wave/when", "would win",
     'titles.tug.rules.last-wave.when = "would win": must be "would tie", "would lead", "would come within" or '
     '"behind"; did you mean "would tie"?'),
    ("people/wallet/off", "true",
     'people.wallet.off = "true": must be true or false, not text; take off the quotes, true'),
    ("people/wallet/off", 1, "people.wallet.off = 1: must be true or false, not a number; write it like off = true"),
    # names
    ("venue/name", "", 'venue.name = "": is empty, must hold at least one letter; write a name'),
    ("venue/name", 7, 'venue.name = 7: must be text, not a number; put it in quotes, "7"'),
    ("venue/name", "a\nb",
     r'venue.name = "a\nb": holds the control character \n, must be one line of readable text; take it out'),
    ("machines/tug/label", "\x1b[2J",
     r'machines.tug.label = "\x1b[2J": holds the control character \x1b, must be one line of readable '
     r'text; take it out'),
    ("venue/money", "\u202ecrowns",
     r'venue.money = "\u202ecrowns": holds the control character \u202e, must be one line of readable '
     r'text; take it out'),
    ("about", "bell\x07",
     r'about = "bell\x07": holds the control character \x07, must be readable text; take it out'),
    # parts that do not fit together
    ("titles/tug/attempts/haul/share", 0.5,
     "titles.tug.attempts: shares sum to 0.8, must sum to 1; add 0.2 to one of them"),
    ("titles/tug/attempts/haul/share", 0.8,
     "titles.tug.attempts: shares sum to 1.1, must sum to 1; take 0.1 off one of them"),
    ("titles/lantern/attempts/light/chance", 0.5,
     "titles.lantern.attempts.light.chance = 0.5: means nothing in open play; take it out"),
    ("titles/lantern/turnover", 0.5,
     'titles.lantern.turnover = 0.5: belongs to play by turns; take it out, or write play = "turns"'),
    ("titles/lantern/scorer_keeps", True,
     'titles.lantern.scorer_keeps = true: belongs to play by turns; take it out, or write play = "turns"'),
    ("titles/lantern/period_start", "alternate",
     'titles.lantern.period_start = "alternate": belongs to play by turns; take it out, or write play = "turns"'),
    ("titles/tug/scores_again", 0.5,
     'titles.tug.scores_again: belongs to open play; take it out, or write play = "open"'),
    ("titles/tug/minimum_chance", 0.995,
     "titles.tug.minimum_chance = 0.995: must be at most maximum_chance = 0.99; change one of the two"),
    ("titles/tug/rules/undertow/periods", [9],
     "titles.tug.rules.undertow.periods = 9: no such period, must be between 1 and 4; write another"),
    ("titles/tug/rules/undertow/periods", [],
     "titles.tug.rules.undertow.periods: is empty, must hold at least one; leave it out for all"),
    ("titles/tug/rules/undertow/attempts", ["hual"],
     'titles.tug.rules.undertow.attempts = "hual": no such attempt; did you mean "haul"?'),
    ("titles/tug/rules/undertow/attempts", "haul",
     'titles.tug.rules.undertow.attempts = "haul": must be a list, not text; put it in brackets, ["haul"]'),
    ("titles/tug/rules/last-wave/last", "15 min",
     'titles.tug.rules.last-wave.last = 15 min: must be at most period_length = 45 s; write "45 s" or less'),
    ("titles/tug/rules/undertow", {"kind": "slope", "per_point": 0.1, "behind_from": 5, "behind_to": 2},
     "titles.tug.rules.undertow: behind_from = 5 lies above behind_to = 2; swap them"),
    ("titles/tug/rules/undertow", {"kind": "turnover", "shift": [[0, 0.1]], "attempts": ["haul"]},
     "titles.tug.rules.undertow.attempts: a turnover comes before any attempt; take it out"),
    ("titles/lantern/rules/breeze", {"kind": "turnover", "shift": [[0, 0.1]]},
     'titles.lantern.rules.breeze.kind = "turnover": needs play by turns; take the rule out, or write play = "turns"'),
    ("titles/lantern/rules/breeze", {"kind": "block", "shift": [[0, 0.1]]},
     'titles.lantern.rules.breeze.kind = "block": needs play by turns; take the rule out, or write play = "turns"'),
    ("titles/tug/rules/undertow", {"kind": "block", "shift": [[0, 0.1]], "relative": True},
     "titles.tug.rules.undertow.relative = true: a share of the title's block chance, which is nil; give the title a "
     'block, like block = "10 %"'),
    ("titles/tug/rules/undertow", {"kind": "slope", "per_point": 0.1, "serves": "computer", "facing": "computer"},
     'titles.tug.rules.undertow.facing = "computer": the computer never sits opposite itself; take it out'),
    ("titles/tug/rules/last-wave", {"kind": "closing chance", "last": "5 s", "when": "behind"},
     'titles.tug.rules.last-wave: must have one of at_least and exactly; write it like at_least = "60 %"'),
    ("titles/tug/attempts/haul/taken_by", {"one": 0.5, "other": 0.3},
     "titles.tug.attempts.haul.taken_by: shares sum to 0.8, must sum to 1; add 0.2 to one of them"),
    ("titles/lantern/attempts/light/taken_by", {"one": 1.0},
     "titles.lantern.attempts.light.taken_by: belongs to play by turns; take it out"),
    ("titles/tug/visitor_players", {"one": {}},
     'titles.tug.visitor_players.one: takes no attempt; write taken_by = { "one" = 1.0 }'),
    ("titles/tug/roster", {"crabs": {"players": {"one": {}}}},
     'titles.tug.roster.crabs.players.one: takes no attempt; write taken_by = { "one" = 1.0 }'),
    ("titles/tug/computer_team", "crabs",
     'titles.tug.computer_team = "crabs": no such team in the roster; add [titles.tug.roster.crabs]'),
    ("titles/tug/rules/undertow/teams", ["crabs"],
     'titles.tug.rules.undertow.teams = "crabs": no such team in the roster; take it out, or add a roster'),
    ("titles/tug/rules/undertow", {"kind": "drought", "after": 2, "at_least": 0.5, "counts": "player"},
     'titles.tug.rules.undertow.counts = "player": attempts.haul does not say who takes it; write '
     '[titles.NAME.attempts.haul] taken_by = { one = 0.5, other = 0.5 }, or counts = "side"'),
    ("titles/tug/mixes", {"late": {"shares": {"haul": 0.5}}},
     "titles.tug.mixes.late.shares: sum to 0.5, must sum to 1; add 0.5 to one of them"),
    ("titles/tug/mixes", {"late": {"shares": {"haul": 1.0}, "points_left": 3}},
     'titles.tug.mixes.late.points_left: needs a contest to N points; this one has a clock; write left = "20 s"'),
    ("titles/lantern/mixes", {"late": {"shares": {"light": 1.0}, "behind_from": 3}},
     "titles.lantern.mixes.late.behind_from: belongs to play by turns; take it out"),
    ("titles/tug/rules/undertow/weight_at", {"hard": 0.0},
     "titles.tug.rules.undertow.weight_at.hard: no such difficulty; add difficulties = { hard = 0.0 }"),
    ("titles/tug/tie", "overtime",
     'titles.tug.overtime: is missing; add it, like overtime = { length = "60 s" }'),
    ("titles/tug/overtime", {"length": "60 s"},
     'titles.tug.overtime: needs tie = "overtime"; write it, or take the overtime out'),
    ("titles/tug/rules/undertow/overtime", "only",
     'titles.tug.rules.undertow.overtime = "only": the title has no overtime; add one, or take the line out'),
    ("titles/tug/attack_limit", "3 min",
     'titles.tug.attack_limit = 3 min: must be at most "120 s"; shorten it, or take it out'),
    ("titles/tug/rules/undertow",
     {"kind": "lucky draw", "every": "9 s", "prizes": {"gust": {"lengths": 2, "odds": [[0, 1.0]]}}},
     'titles.tug.rules.undertow.kind = "lucky draw": draws lengths, which only a race has; take the rule out'),
    # rules
    ("titles/tug/rules/undertow/kind", "slop",
     f'titles.tug.rules.undertow.kind = "slop": must be {KINDS}; did you mean "slope"?'),
    ("titles/tug/rules/undertow/kind", ["slope"],
     f'titles.tug.rules.undertow.kind = ["slope"]: must be {KINDS}; write one of them'),
    ("titles/tug/rules/undertow", {"kind": "slope"},
     'titles.tug.rules.undertow.per_point: is missing; add it, like per_point = "2.5 pp"'),
    ("titles/lantern/rules/breeze/shift", [],
     "titles.lantern.rules.breeze.shift: is empty, must hold at least one; write it, like shift = "
     "[[0, 0.0], [4, 0.08]]"),
    ("titles/lantern/rules/breeze/shift", [[3, 0.1], [1, 0.2]],
     "titles.lantern.rules.breeze: rows of shift must rise in their first number; sort them"),
    ("titles/lantern/rules/breeze/shift", [[3, 0.1, 4]],
     "titles.lantern.rules.breeze.shift[item 1]: must be two numbers; write it like [4, 0.08]"),
    ("titles/lantern/rules/breeze/shift", [[3]],
     "titles.lantern.rules.breeze.shift[item 1][item 2]: is missing; add it; a row is two numbers, like [4, 0.08]"),
    ("titles/lantern/rules/breeze/shift", [[0, 0], ["a", 0.1]],
     "titles.lantern.rules.breeze.shift[item 2][item 1] = \"a\": must be a whole number, not text; write it like 2"),
    ("titles/lantern/rules/breeze/shift", [3, 0.1],
     "titles.lantern.rules.breeze.shift[item 1] = 3: must be a list, not a number; put it in brackets, [3]|"
     "titles.lantern.rules.breeze.shift[item 2] = 0.1: must be a list, not a number; write it in brackets, [ ]"),
    # study
    ("study/warm_up", 42,
     "study.warm_up = 42: must be less than study.days = 42, or nothing is left to measure; make days longer or "
     "warm_up shorter"),
    ("study/replications", 0, "study.replications = 0: must lie between 1 and 1000000; write 1 or more"),
    ("study/switches_off", ["tide"], 'study.switches_off = "tide": no rule has this switch; did you mean "tide-help"?'),
    ("study/switches_off", "tide-help",
     'study.switches_off = "tide-help": must be a list, not text; put it in brackets, ["tide-help"]'),
    # tables
    ("people", 3, "people = 3: must be a table, not a number; begin it with [people]"),
    ("machines/tug", [1], "machines.tug = [1]: must be a table, not a list; begin it with [machines.tug]"),
    ("titles/tug/attempts", {},
     "titles.tug.attempts: is missing; add [titles.tug.attempts.NAME]"),
    ("machines", {}, "machines: is empty, must hold at least one; add [machines.NAME]"),
    # titles and machines
    ("machines/tug/title", "tugg",
     'machines.tug.title = "tugg": no such title; did you mean "tug"?|titles.tug: no machine plays it; give a '
     '[machines.NAME] the line title = "tug", or take the title out'),
    ("machines/shingle/title", "tug",
     "machines.shingle: a machine has either a title or a play_time; give one of the two"),
    ("machines/shingle/seats", 2,
     "machines.shingle: seats = 2 needs a title; a machine without a contest has one seat"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "expected"), VALUES)
def test_wrong_values(path: str, value: Any, expected: str) -> None:
    assert lines(changed(path, value)) == expected.split("|")


MISSING = [
    ("pier", "venue", "venue: is missing; add [venue]"),
    ("pier", "venue/name", 'venue.name: is missing; add it, like name = "The Landing"'),
    ("pier", "venue/hours", "venue.hours: is missing; add [venue.hours]"),
    ("pier", "venue/arrivals/per_hour", 'venue.arrivals.per_hour: is missing; add it, like per_hour = { "10:00" = 6 }'),
    ("pier", "machines", "machines: is missing; add [machines.NAME]"),
    ("pier", "machines/tug/price", "machines.tug.price: is missing; add it, like price = 2"),
    ("pier", "machines/tug/title", "machines.tug: a machine has either a title or a play_time; give one of the two"),
    ("pier", "machines/lantern",
     'titles.lantern: no machine plays it; give a [machines.NAME] the line title = "lantern", or take the title out'),
    ("pier", "titles/lantern", 'machines.lantern.title = "lantern": no such title; known: tug'),
    ("pier", "titles/tug/attempts", "titles.tug.attempts: is missing; add [titles.tug.attempts.NAME]"),
    ("pier", "titles/tug/attempts/haul/chance",
     'titles.tug.attempts.haul.chance: is missing, play by turns needs it; add it, like chance = "50 %"'),
    ("pier", "titles/tug/rules/undertow/kind",
     f"titles.tug.rules.undertow.kind: is missing; add kind = {KINDS}"),
    ("bar", "titles/moth/rules/draught/steps/0/left",
     'titles.moth.rules.draught.steps[item 1]: must have one of left and points_left; write it like left = "60 s"'),
]  # fmt: skip


@pytest.mark.parametrize(("name", "path", "line"), MISSING, ids=[item[1] for item in MISSING])
def test_what_is_missing_is_asked_for_by_example(name: str, path: str, line: str) -> None:
    assert lines(without(path, name)) == [line]


def test_titles_without_any_left() -> None:
    assert lines(without("titles")) == [
        'machines.tug.title = "tug": no such title; add [titles.tug]',
        'machines.lantern.title = "lantern": no such title; add [titles.lantern]',
    ]


def test_an_empty_scenario() -> None:
    assert lines({}) == ["venue: is missing; add [venue]", "machines: is missing; add [machines.NAME]"]


def test_every_fault_is_told_at_once() -> None:
    raw = demo()
    raw["study"]["dayz"] = 3
    raw["machines"]["tug"]["price"] = -1
    raw["venue"]["credit_price"] = {"value": 0.5, "from": "hearsay"}
    assert [line.partition(":")[0].partition(" =")[0] for line in lines(raw)] == [
        "venue.credit_price.from", "machines.tug.price", "study.dayz",
    ]  # fmt: skip


def test_odd_keys_are_quoted_as_toml_quotes_them() -> None:
    raw = demo()
    raw["machines"]['left. "wing"'] = raw["machines"]["tug"] | {"prise": 2}
    assert lines(raw) == [r'machines."left. \"wing\"".prise: unknown key; did you mean "price"?']


@pytest.mark.parametrize("key", ["a\nb", "a\u2028b", "", "\u202ex"])
def test_names_of_machines_are_readable_too(key: str) -> None:
    raw = demo()
    raw["machines"][key] = raw["machines"]["tug"]
    (line,) = lines(raw)
    assert line.startswith('machines."') and "its name" in line


def test_tables_within_tables_without_end() -> None:
    raw = demo()
    raw["venue"]["deep"] = {}
    inner = raw["venue"]["deep"]
    for _ in range(5000):
        inner["a"] = {}
        inner = inner["a"]
    assert "venue.deep.a: holds tables within tables without end; take them out" in lines(raw)


def test_a_key_of_great_length_is_cut_short() -> None:
    (line,) = lines(changed(f"study/{'k' * 5000}", 1))
    assert len(line) < 300


TYPES: list[Any] = [
    True, "word", "", -1, 2.5, NAN, -INF, HUGE, [], [1], ["a"], [[]], {}, {"a": 1}, datetime.date(2024, 1, 1),
    datetime.time(12), datetime.datetime(2024, 1, 1, 12, tzinfo=datetime.UTC), {"value": 1}, {"from": "measured"},
]  # fmt: skip


def leaves(item: Any, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Every key path of a scenario, tables and places in lists included."""
    if isinstance(item, dict | list):
        pairs = item.items() if isinstance(item, dict) else enumerate(item)
        return [found for key, value in pairs for found in [(*path, str(key)), *leaves(value, (*path, str(key)))]]
    return []


@pytest.mark.parametrize("name", ["pier", "bar", "mall"])
def test_every_kind_of_toml_value_in_every_place_is_taken_or_refused_in_words(name: str) -> None:
    for place, path in enumerate(leaves(demo(name))):
        # All kinds in turn: neighbours in the file get different ones.
        for value in TYPES[place % 4 :: 4]:
            raw = demo(name)
            *front, last = path
            table = table_at(raw, steps("/".join(front)) if front else [])
            table[int(last) if isinstance(table, list) else last] = value
            try:
                check(raw, "file.toml")
            except ScenarioError as error:
                assert_lines(error, "file.toml")
