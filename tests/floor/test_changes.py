"""Changes by date: what is in force already alters no bit, a change on day 0 is the plain run, and from its day on a
change is another venue's run from the same evening. Identities of the program with itself; days counted by hand.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from venue.errors import RunError, ScenarioError
from venue.floor.run import Floor
from venue.scenario.in_force import in_force
from venue.scenario.load import Loaded, check, to_raw
from venue.streams import Streams
from venue.study.measures import Measured, measure
from venue.study.replicate import _solved
from venue.units import DAY

from .test_snapshot import BEFORE, hall, stopped
from .test_snapshot import going_on as from_snapshot

DAYS = 21


def changing(*changes: dict[str, Any], base: Loaded | None = None, **study: Any) -> Loaded:
    raw = to_raw((base or hall()).scenario)
    raw["study"] |= {"days": DAYS, **study}
    return check({**raw, "changes": list(changes)}, "hall")


def ran(loaded: Loaded) -> tuple[Floor, Measured]:
    scenario = loaded.scenario
    tables, unaided = _solved(scenario)
    floor = Floor(scenario, tables, Streams(5, 0), scenario.study.days)
    floor.run()
    return floor, measure(floor, scenario.study.warm_up, unaided)


def rows(floor: Floor) -> tuple[bytes, bytes]:
    return floor.ledger.plays.table().tobytes(), floor.ledger.visits.table().tobytes()


IN_FORCE: list[dict[str, Any]] = [
    {"strength": 1.0},
    {"machines": ["solo"], "price": 1, "count": 3, "switches_off": []},
    {"hours": {"every_day": "10:00-16:00"}, "limits": {}},
]


@pytest.mark.parametrize("change", IN_FORCE, ids=lambda change: "+".join(change))
@pytest.mark.parametrize("day", [0, 9])
def test_what_is_in_force_already_alters_no_bit(change: dict[str, Any], day: int) -> None:
    plain, changed = ran(changing()), ran(changing({"day": day, **change}))
    assert rows(plain[0]) == rows(changed[0])
    np.testing.assert_equal(plain[1].venue, changed[1].venue)
    np.testing.assert_equal(plain[1].machines, changed[1].machines)


def without_plans(table: NDArray[np.void]) -> bytes:
    """Rows but for when people will come again, which follows the hours to come."""
    known = table.copy()
    if "next_visit" in (known.dtype.names or ()):
        known["next_visit"] = 0.0
    return known.tobytes()


CHANGES: list[tuple[dict[str, Any], list[str]]] = [
    ({"strength": 0.25}, ["study.strength=0.25"]),
    ({"price": 2}, ["machines.solo.price=2", "machines.duel.price=2", "machines.slide.price=2"]),
    ({"machines": ["solo"], "count": 1}, ["machines.solo.count=1"]),
    ({"machines": ["duel"], "count": 4}, ["machines.duel.count=4"]),
    ({"hours": {"every_day": "12:00-20:00"}}, ['venue.hours.every_day="12:00-20:00"']),
    ({"limits": {"spend_per_visit": 3}}, ["limits.spend_per_visit=3"]),
    ({"machines": ["solo"], "prices": {"12:00": 2}}, ['machines.solo.prices={"12:00"=2}']),
]
names = pytest.mark.parametrize(("change", "same"), CHANGES, ids=lambda item: "+".join(item))


@names
def test_a_change_on_the_first_day_is_the_plain_run(change: dict[str, Any], same: list[str]) -> None:
    at_once, plain = ran(changing({"day": 0, **change})), ran(changing(base=hall().vary(same)))
    assert rows(at_once[0]) == rows(plain[0])
    np.testing.assert_equal(at_once[1].venue, plain[1].venue)
    assert rows(at_once[0]) != rows(ran(changing())[0])


@names
def test_a_change_is_another_setting_from_the_same_evening(change: dict[str, Any], same: list[str]) -> None:
    """Up to the day nothing differs; from it on it is the changed venue, going on from a snapshot of the other."""
    changed = ran(changing({"day": BEFORE, **change}, days=2 * BEFORE))[0]
    before = ran(changing(days=2 * BEFORE))[0]
    snapshot = stopped(hall())
    for name, when in (("plays", "began"), ("visits", "arrived")):
        one, other = (getattr(floor.ledger, name).table() for floor in (changed, before))
        assert without_plans(one[one[when] < snapshot.now]) == without_plans(other[other[when] < snapshot.now])
        after = getattr(from_snapshot(hall().vary(same), snapshot)[0].ledger, name).table()
        assert one[one[when] >= snapshot.now].tobytes() == after.tobytes()


def test_two_settings_side_by_side() -> None:
    base = hall().vary(["machines.solo.count=1"])
    raw = to_raw(base.scenario)
    raw["machines"]["other"] = {**raw["machines"]["solo"], "strength": 0.0}
    floor, measured = ran(check(raw, "hall"))
    strengths = {row.key: row.title.tables.strength for row in floor.rows if row.title is not None}
    assert strengths == {"solo": 1.0, "duel": 1.0, "other": 0.0}
    assert measured.machines["other"]["better_side_wins"] > measured.machines["solo"]["better_side_wins"]


def test_money_counts_machines_for_as_long_as_they_stood() -> None:
    costs = ["machines.solo.floor_cost=70.0"]
    change = {"day": 7, "machines": ["solo"], "count": 6}
    _, measured = ran(changing(change, base=hall().vary(costs)))
    _, free = ran(changing(change))
    # Three machines for one week of the three, six for two of them: fifteen machine-weeks at 70.
    assert free.venue["profit_per_week"] - measured.venue["profit_per_week"] == pytest.approx(15 * 70 / 3)
    assert [week.profit_per_week for week in measured.weeks] == pytest.approx(
        [week.profit_per_week - cost for week, cost in zip(free.weeks, (210.0, 420.0, 420.0), strict=True)]
    )


def test_the_skill_edge_is_that_of_each_setting_in_its_time() -> None:
    """Half of the time at strength 0, where the edge kept is one."""
    kept = [ran(changing({"day": day, "strength": 0.0}))[1].venue["skill_edge"] for day in (0, 10, 20)]
    assert kept[0] == pytest.approx(1.0)
    assert kept[0] > kept[1] > kept[2]


def test_dates_count_from_the_first_day() -> None:
    dated = changing({"date": "2030-07-08", "price": 2}, starts="2030-07-01").scenario
    assert in_force(dated, 6).machines["solo"].price == 1
    assert in_force(dated, 7).machines["solo"].price == 2
    assert [day.opens // DAY for day in ran(changing())[0].open_days] == [*range(DAYS)]


@pytest.mark.parametrize(
    ("change", "study", "said"),
    [
        ({"price": 2}, {}, "either a day or a date"),
        ({"day": 1, "date": "2030-07-08", "price": 2}, {}, "either a day or a date"),
        ({"day": 1}, {}, "changes nothing"),
        ({"day": 1, "machines": ["solo"], "limits": {}}, {}, "changes nothing of them"),
        ({"day": 1, "machines": ["sole"], "price": 2}, {}, "no such machines"),
        ({"day": 1, "machines": ["slide"], "strength": 0.5}, {}, "no title, and so no strength"),
        ({"day": 1, "switches_off": ["help"]}, {}, "no rule has this switch"),
        ({"date": "2030-07-08", "price": 2}, {}, "needs study.starts"),
        ({"date": "8 July", "price": 2}, {}, "not a date"),
        ({"date": "2030-06-03", "price": 2}, {"starts": "2030-07-01"}, "lies before"),
        ({"day": 1, "price": 2}, {"starts": "2030-07-02"}, "must be a Monday"),
        ({"day": 1, "hours": {"every_day": "closed"}}, {}, "never opens"),
    ],
)
def test_mistakes(change: dict[str, Any], study: dict[str, Any], said: str) -> None:
    with pytest.raises(ScenarioError, match=said):
        changing(change, **study)


def test_a_venue_that_never_closes_cannot_be_changed() -> None:
    with pytest.raises(RunError, match="open through the eve of day 9"):
        ran(changing({"day": 9, "price": 2}, base=hall("00:00-24:00")))


def test_a_scenario_with_changes_is_a_scenario_again() -> None:
    loaded = changing(
        {"day": 3, "hours": {"every_day": "10:00-16:00", "sunday": "closed"}, "prices": {"12:00": 2}},
        {"date": "2030-07-08", "machines": ["solo"], "count": 2}, starts="2030-07-01",
    )  # fmt: skip
    again = check(to_raw(loaded.scenario), "hall")
    assert again.scenario == loaded.scenario
    sunday = again.scenario.changes[0].hours
    assert sunday is not None
    assert sunday.on(6) is None
