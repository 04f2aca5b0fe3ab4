"""What the floor costs, against bare SimPy, a plain SimPy queue and a general queueing simulator."""

from __future__ import annotations

import ciw
import numpy as np
import pytest
import simpy

from venue.contest.table import TitleTables
from venue.floor.run import Floor
from venue.scenario.load import check, load, to_raw
from venue.scenario.scenario import Scenario
from venue.streams import Streams
from venue.threads import one_thread

from .side_by_side import ratio, report

pytestmark = pytest.mark.benchmark

SERVERS, LOAD, DAYS = 10, 8.0, 3


def bare_timeouts(processes: int, count: int = 60_000) -> float:
    """SimPy alone: processes that do nothing but wait."""
    env = simpy.Environment()

    def waits():
        for _ in range(count // processes):
            yield env.timeout(1.0)

    for _ in range(processes):
        env.process(waits())
    env.run()
    assert env.now == count // processes
    return count


def plain() -> Scenario:
    """The pier without parties, till, faults and costs: what it was before people had friends and machines wore."""
    raw = to_raw(load("scenarios/pier.toml").scenario)
    del raw["people"]["party"], raw["venue"]["till"], raw["venue"]["technician"]
    for machine in raw["machines"].values():
        machine.pop("faults", None)
    return check(raw, "plain").scenario


def a_bought_period(scenario: Scenario) -> tuple[float, float, int]:
    """Cost of a bought period in bare timeouts, of as many processes as people are inside and of one."""
    with one_thread():
        tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in scenario.titles.items()}

        def floor() -> float:
            run = Floor(scenario, tables, Streams(1, 1), 42)
            run.run()
            plays = run.ledger.plays.table()
            assert plays["credits"].sum() == sum(row.coin_box.take for row in run.rows) > 0
            floor.inside = (run.ledger.visits.table()["left"] - run.ledger.visits.table()["arrived"]).sum() / sum(
                day.closes - day.opens for day in run.open_days
            )
            return float(plays["periods"].sum())

        floor()  # solves the contests
        people = max(1, round(floor.inside))
        measured = ratio(floor, lambda: bare_timeouts(people))
        return measured, ratio(floor, lambda: bare_timeouts(1)), people


def test_a_bought_period_costs_at_most_ten_bare_timeouts():
    measured, alone, people = a_bought_period(plain())
    report(f"a bought period in bare timeouts, {people} processes as people are inside", measured, "at most 10")
    report("the same, one process", alone, "for comparison")
    assert measured <= 10.0


def test_a_bought_period_with_parties_and_faults_costs_at_most_twelve():
    measured, alone, people = a_bought_period(load("scenarios/pier.toml").scenario)
    report(f"with parties, till and faults, {people} processes as people are inside", measured, "at most 12")
    report("the same, one process", alone, "for comparison")
    assert measured <= 12.0


def textbook() -> Floor:
    """M/M/10 as a venue: one row of machines without a contest, nobody chooses, believes or comes back."""
    raw = {
        "venue": {
            "name": "M/M/10", "credit_price": 1.0,
            "hours": {"every_day": "00:00-24:00", "last_entry": "1 h"},
            "arrivals": {"per_hour": {"00:00": LOAD * 60.0}},
        },
        "people": {
            "wallet": {"off": True}, "stay": {"median": "0.000001 s", "spread": 0.0}, "patience": {"off": True},
            "choice": {"leave": -np.inf}, "come_back": {"constant": -np.inf},
        },
        "machines": {"row": {"count": SERVERS, "price": 1, "play_time": "1 min", "play_time_varies": "exponential"}},
        "study": {"days": DAYS, "warm_up": 0},
    }  # fmt: skip
    return Floor(check(raw, "textbook").scenario, {}, Streams(1, 0), DAYS)


def served_by_the_floor() -> float:
    floor = textbook()
    floor.run()
    visits = floor.ledger.visits.table()
    assert (visits["plays"] == 1).all()
    return float(len(visits))


def served_by_a_resource() -> float:
    """The same queue written plainly with simpy.Resource, a row kept for each customer."""
    env = simpy.Environment()
    machines = simpy.Resource(env, SERVERS)
    generator = np.random.default_rng(1)
    rows = []

    def customer(number: int):
        arrived = env.now
        with machines.request() as request:
            yield request
            waited = env.now - arrived
            length = generator.exponential(60.0)
            yield env.timeout(length)
        rows.append((number, arrived, waited, env.now))

    def door():
        number = 0
        while env.now < DAYS * 86400.0:
            yield env.timeout(generator.exponential(60.0 / LOAD))
            env.process(customer(number))
            number += 1

    env.process(door())
    env.run()
    return float(len(rows))


def served_by_ciw() -> float:
    ciw.seed(1)
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(rate=LOAD)],
        service_distributions=[ciw.dists.Exponential(rate=1.0)],
        number_of_servers=[SERVERS],
    )
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_time(2 * 24 * 60.0)
    return float(len(simulation.get_all_records()))


def test_the_floor_serves_a_textbook_queue_at_least_as_fast_as_a_plain_resource():
    measured = 1 / ratio(served_by_the_floor, served_by_a_resource, pairs=5)
    report("customers a second, floor / plain simpy.Resource", measured, "at least 1")
    assert measured >= 1.0


def test_the_floor_serves_a_textbook_queue_faster_than_a_general_simulator():
    measured = 1 / ratio(served_by_the_floor, served_by_ciw, pairs=5)
    report("customers a second, floor / Ciw", measured, "at least 1.5")
    assert measured >= 1.5
