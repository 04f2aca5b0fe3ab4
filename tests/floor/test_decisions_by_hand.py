"""Single decisions and contests of named visitors, worked out by hand from docs/model.md.

A decision is checked at its edge: with the chance to buy in that the model's logit gives, a draw just below it buys in
and one just above it does not. So each term counts, with its sign. No source outside: the model's own definition.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain, repeat
from typing import Any

import numpy as np
import pytest
from scipy import stats

from venue.contest.table import TitleTables
from venue.floor.price_list import Price
from venue.floor.process import Process, run_out
from venue.floor.run import Floor
from venue.floor.visit import visit_steps
from venue.streams import Streams
from venue.visitors.person import Person
from venue.visitors.visit import Visit

from .textbook import NEVER, SURELY, Raw, textbook, walk

EDGE = 1e-7


@dataclass
class Comer:
    """Who comes: with so much skill and so many credits, at a time, with these draws, in the mood they are in."""

    wallet: float = 100
    skill: float = 0.0
    at: float = 0.0
    play: Sequence[float] = ()
    buy_in: Sequence[float] = ()
    suspicion: float = 0.0
    been_here: float = 0.0
    has_played: int = 0


def floor_of(machines: Raw, titles: Raw, people: Raw | None = None, changes: Sequence[str] = ()) -> Floor:
    """A floor that never closes, on which nothing has happened yet."""
    scenario = textbook(machines, 1.0, titles=titles, people=people).vary(list(changes)).scenario
    tables = {key: TitleTables(title, 1.0, frozenset()) for key, title in scenario.titles.items()}
    floor = Floor(scenario, tables, Streams(81, 0), 1, keep_offers=True)
    floor.context.closing = math.inf
    return floor


def let_in(floor: Floor, *comers: Comer, then: Sequence[tuple[float, Callable[[], None]]] = ()) -> list[Visit]:
    """They come, play and go; `then` is what else happens, and when."""
    visits: list[Visit] = []
    for number, comer in enumerate(comers):
        person = Person(number)
        person.skill = comer.skill
        visit = floor.context.habits.traits.begin_visit(person, comer.at - comer.been_here)
        visit.wallet, visit.stay, visit.suspicion, visit.plays = comer.wallet, 1000.0, comer.suspicion, comer.has_played
        visit.play = chain(comer.play, repeat(0.5))
        if comer.buy_in:
            visit.buy_in = chain(comer.buy_in, repeat(1.0))
        visits.append(visit)
        floor.ledger.inside += 1

    def comes(visit: Visit, at: float) -> Any:
        yield at
        yield from visit_steps(floor.context, floor.door, floor.choice, visit)

    def happens(at: float, what: Callable[[], None]) -> Any:
        yield at
        what()

    for visit, comer in zip(visits, comers, strict=True):
        Process(floor.context.env, comes(visit, comer.at))
    for at, what in then:
        Process(floor.context.env, happens(at, what))
    run_out(floor.context.env)
    return visits


def offers_of(floor: Floor, visit: Visit, kind: str) -> np.ndarray[Any, Any]:
    """Offers of one kind that a visitor met."""
    assert floor.ledger.offers.records is not None
    rows = floor.ledger.offers.records.table()
    kinds = ("start", "break", "again", "join")
    return rows[(rows["person"] == visit.person.number) & (rows["kind"] == kinds.index(kind))]


# -- the decision to buy in ----------------------------------------------------------------------------------------

TASTES: Raw = {
    "go_on": 0.3, "again": -0.2, "chance": 1.5, "closeness": 0.9, "price": 0.25, "played": 0.2, "suspicion": 0.4,
    "tired": 0.7,
}  # fmt: skip
HALF = 20  # steps of a period: after one of two the spread left is that of 20 more
SPREAD = math.sqrt(2 * HALF)
PRICE, LATER, LESS_AGAIN = 3, 2, 1
MOOD: Raw = {"suspicion": 0.8, "been_here": 300.0, "has_played": 2}


def buys_in(constant: str, chance: float, margin: int, plays: int, price: int, now: float) -> float:
    """Chance to buy in for somebody in that mood: docs/model.md, the decision to buy in."""
    utility = (
        TASTES[constant]
        + TASTES["chance"] * chance
        + TASTES["closeness"] * math.exp(-((margin / SPREAD) ** 2) / 2)
        - TASTES["price"] * price
        - TASTES["played"] * plays
        - TASTES["suspicion"] * 0.8
        - TASTES["tired"] * (now + 300.0) / 1000.0
    )
    return 1 / (1 + math.exp(-utility))


def naive(lead: int) -> float:
    """Stern 1994, J. Am. Stat. Assoc. 89, with half of the contest left and a belief of one half."""
    return float(stats.norm.cdf(lead / SPREAD / math.sqrt(0.5)))


def at_a_break(seats: int, who: int, draw: float) -> tuple[Floor, Visit]:
    """A walk of two periods that stands clearly for side A at its break; visitor `who` decides by `draw`."""
    machine = {"title": "walk", "price": PRICE, "price_to_go_on": LATER, "seats": seats, "discount_again": LESS_AGAIN}
    floor = floor_of({"walk": machine}, {"walk": walk(HALF, periods=2)}, {"buy_in": TASTES})
    comers = [Comer(play=[0.5, 0.5, 0.8], buy_in=[0.0], **MOOD) for _ in range(seats)]
    comers[who].buy_in = [draw]
    visits = let_in(floor, *comers)
    return floor, visits[who]


@pytest.mark.parametrize(("seats", "who"), [(1, 0), (2, 0), (2, 1)])
def test_each_term_counts_in_going_on_at_a_break(seats: int, who: int) -> None:
    floor, visit = at_a_break(seats, who, 0.5)
    (offer,) = offers_of(floor, visit, "break")
    lead = int(offer["margin"])
    assert (lead < 0) == bool(who) and abs(lead) >= 2 and offer["price"] == LATER
    assert offer["perceived"] == pytest.approx(naive(lead), rel=1e-6)
    chance = buys_in("go_on", naive(lead), lead, plays=3, price=LATER, now=HALF)
    assert 0.1 < chance < 0.9
    for draw, taken in ((chance - EDGE, 1), (chance + EDGE, 0)):
        floor, visit = at_a_break(seats, who, draw)
        assert offers_of(floor, visit, "break")["taken"].tolist() == [taken]
        assert visit.taken == taken


def after_a_contest(seats: int, who: int, draw: float) -> tuple[Floor, Visit]:
    """A contest of one period that ends clearly for side A; visitor `who` is asked for another."""
    machine = {"title": "walk", "price": PRICE, "seats": seats, "discount_again": LESS_AGAIN}
    floor = floor_of({"walk": machine}, {"walk": walk(2 * HALF)}, {"buy_in": TASTES})
    comers = [Comer(play=[0.5, 0.5, 0.8], buy_in=[1.0], **MOOD) for _ in range(seats)]
    comers[who].buy_in = [draw]
    visits = let_in(floor, *comers)
    return floor, visits[who]


@pytest.mark.parametrize(("seats", "who"), [(1, 0), (2, 0), (2, 1)])
def test_each_term_counts_in_another_contest(seats: int, who: int) -> None:
    floor, visit = after_a_contest(seats, who, 1.0)
    (offer,) = offers_of(floor, visit, "again")
    margin = int(offer["margin"])
    assert (margin < 0) == bool(who) and abs(margin) >= 2 and offer["price"] == PRICE - LESS_AGAIN
    # A Beta belief of 2 wins and 2 losses, and one contest more.
    belief = 2 / 5 if who else 3 / 5
    assert offer["perceived"] == pytest.approx(belief, rel=1e-6)
    chance = buys_in("again", belief, margin, plays=3, price=PRICE - LESS_AGAIN, now=2 * HALF)
    assert 0.1 < chance < 0.9
    for draw, taken in ((chance - EDGE, 1), (chance + EDGE, 0)):
        floor, visit = after_a_contest(seats, who, draw)
        assert offers_of(floor, visit, "again")["taken"].tolist()[:1] == [taken]
        assert visit.plays == 3 + taken
    # What was met: the belief and the closeness at each offer, not that of a first contest.
    floor, visit = after_a_contest(seats, who, 1.0)
    assert (visit.offers, visit.taken) == (1, 0)
    assert visit.chance_met == pytest.approx(belief)
    assert visit.closeness_met == pytest.approx(math.exp(-((margin / SPREAD) ** 2) / 2))


def open_seat(draw: float, wallet: float = 100) -> tuple[Floor, Visit]:
    """One of two gets up at the break, behind or ahead; somebody who waits in line is offered the seat."""
    machine = {"title": "walk", "price": PRICE, "price_to_go_on": LATER, "seats": 2}
    floor = floor_of({"walk": machine}, {"walk": walk(HALF, periods=2)}, {"buy_in": TASTES})
    stays = Comer(play=[0.5, 0.5, 0.8], buy_in=[0.0])
    leaves = Comer(buy_in=[1.0])
    waits = Comer(wallet, at=5.0, buy_in=[draw], **MOOD)
    return floor, let_in(floor, stays, leaves, waits)[2]


def test_each_term_counts_in_joining_at_a_break() -> None:
    floor, visit = open_seat(1.0)
    (offer,) = offers_of(floor, visit, "join")
    lead = int(offer["margin"])
    assert lead <= -2 and offer["price"] == LATER
    assert offer["perceived"] == pytest.approx(naive(lead), rel=1e-6)
    chance = buys_in("go_on", naive(lead), lead, plays=2, price=LATER, now=HALF - 5)
    assert 0.1 < chance < 0.9
    for draw, taken in ((chance - EDGE, 1), (chance + EDGE, 0)):
        floor, visit = open_seat(draw)
        assert offers_of(floor, visit, "join")["taken"].tolist() == [taken]
        assert visit.taken == taken
    # Who refused waits on, plays the next contest from its start, and stops at its break: two offers met.
    floor, visit = open_seat(1.0)
    leads = [int(offers_of(floor, visit, kind)["margin"][0]) for kind in ("join", "break")]
    assert visit.offers == 2
    assert visit.chance_met == pytest.approx(sum(map(naive, leads)))
    assert visit.closeness_met == pytest.approx(sum(math.exp(-((points / SPREAD) ** 2) / 2) for points in leads))


def test_no_term_no_effect() -> None:
    """Control: the edge is not where it would be without the term for closeness."""
    floor, visit = at_a_break(2, 0, 0.5)
    lead = int(offers_of(floor, visit, "break")[0]["margin"])
    chance = buys_in("go_on", naive(lead), 0, plays=3, price=LATER, now=HALF)
    floor, visit = at_a_break(2, 0, chance - EDGE)
    assert visit.taken == 0


def test_what_contests_taught_counts_in_the_choice_of_a_machine() -> None:
    # Two titles alike; of one the visitor has seen two wins, so that they believe in 4 of 6 there, and in a half here.
    machine = {"price": 1, "count": 2}
    floor = floor_of(
        {"new": {**machine, "title": "new"}, "known": {**machine, "title": "known"}},
        {"new": walk(20), "known": walk(20)}, {"choice": {"belief": 3.0}, "stay": {"median": "1 h"}},
    )  # fmt: skip
    new, known = floor.rows
    share = math.exp(3.0 / 2) / (math.exp(3.0 / 2) + math.exp(3.0 * 4 / 6))
    for draw, chosen in ((share - EDGE, new), (share + EDGE, known)):
        visit = floor.context.habits.traits.begin_visit(Person(0), 0.0)
        record = floor.context.habits.traits.meet(visit.person, 1)
        for _ in range(2):
            floor.context.habits.traits.learn(record, 1.0, False)
        visit.choice = iter([draw])
        assert floor.choice.choose(visit, 0.0, ()) is chosen


def test_suspicion_turns_a_visitor_from_titles_to_machines_without_a_contest() -> None:
    machine = {"price": 1, "count": 2}
    floor = floor_of(
        {"walk": {**machine, "title": "walk"}, "desk": {**machine, "play_time": "1 min"}},
        {"walk": walk(20)}, {"choice": {"belief": 0.0, "suspicion": 0.8}, "stay": {"median": "1 h"}},
    )  # fmt: skip
    contest, desk = floor.rows
    for level in (0.0, 2.0):
        share = 1 / (1 + math.exp(0.8 * level))
        for draw, chosen in ((share - EDGE, contest), (share + EDGE, desk)):
            visit = floor.context.habits.traits.begin_visit(Person(0), 0.0)
            visit.suspicion = level
            visit.choice = iter([draw])
            assert floor.choice.choose(visit, 0.0, ()) is chosen


def test_leaving_draws_more_as_the_time_to_spend_runs_out() -> None:
    floor = floor_of(
        {"desk": {"price": 1, "play_time": "1 min"}}, {},
        {"choice": {"price": 0.0, "leave": -1.0, "tired": 2.0}, "stay": {"median": "1 h"}},
    )  # fmt: skip
    (desk,) = floor.rows
    for part in (0.0, 0.75):
        going = 1 / (1 + math.exp(-(-1.0 + 2.0 * part)))
        for draw, chosen in ((1 - going - EDGE, desk), (1 - going + EDGE, "found nothing")):
            visit = floor.context.habits.traits.begin_visit(Person(0), 0.0)
            visit.choice = iter([draw])
            assert floor.choice.choose(visit, part * visit.stay, ()) == chosen


# -- the coin box --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seats", [1, 2])
def test_the_coin_box_tells_the_hour_of_each_buy_in(seats: int) -> None:
    machine = {"title": "walk", "price": 3, "price_to_go_on": 2, "seats": seats, "discount_again": 2}
    floor = floor_of({"walk": machine}, {"walk": walk(20, periods=2)}, WILLING)
    # From 12 s before the hour: three credits each, then two at the break, one for another contest, and two again.
    visits = let_in(floor, *(Comer(8, at=3588.0) for _ in range(seats)))
    assert floor.rows[0].coin_box.by_hour[:2] == [3 * seats, 5 * seats]
    assert {visit.credits for visit in visits} == {8}


def test_the_coin_box_tells_the_hour_of_who_joins() -> None:
    machine = {"title": "walk", "price": 3, "price_to_go_on": 2, "seats": 2}
    floor = floor_of({"walk": machine}, {"walk": walk(20, periods=2)}, {"buy_in": {"go_on": SURELY}})
    visits = let_in(floor, Comer(at=3588.0), Comer(4, at=3588.0), Comer(3, at=3590.0))
    # At the break one goes on, one gets up, and one buys into the open seat.
    assert floor.rows[0].coin_box.by_hour[:2] == [6, 4]
    assert [visit.credits for visit in visits] == [5, 3, 2]


def test_the_coin_box_tells_the_hour_of_a_play_without_a_contest() -> None:
    floor = floor_of({"desk": {"price": 2, "play_time": "1 min"}}, {})
    let_in(floor, Comer(2, at=3550.0), Comer(2, at=3551.0))
    # The second waits for the one machine until ten seconds past the hour.
    assert floor.ledger.plays.table()["began"].tolist() == [3550.0, 3610.0]
    assert floor.rows[0].coin_box.by_hour[:2] == [2, 2]


# -- an empty wallet -----------------------------------------------------------------------------------------------

WILLING: Raw = {"buy_in": {"go_on": SURELY, "again": SURELY}}


@pytest.mark.parametrize("seats", [1, 2])
@pytest.mark.parametrize(
    ("wallet", "periods", "plays"), [(3, 1, 1), (4, 1, 1), (5, 2, 1), (6, 2, 1), (7, 3, 2), (8, 3, 2), (9, 4, 2)]
)
def test_a_wallet_that_holds_just_the_price(seats: int, wallet: int, periods: int, plays: int) -> None:
    """Three credits to begin, two to go on, two for another contest (one off): one credit too few is what stops."""
    machine = {"title": "walk", "price": 3, "price_to_go_on": 2, "discount_again": 1, "seats": seats}
    floor = floor_of({"walk": machine}, {"walk": walk(20, periods=2)}, WILLING)
    for visit in let_in(floor, *(Comer(wallet) for _ in range(seats))):
        bought = [int(row["periods"]) for row in floor.ledger.plays.table() if row["person"] == visit.person.number]
        assert (sum(bought), len(bought)) == (periods, plays)
        assert visit.last_no == "wallet empty" and visit.wallet >= 0


@pytest.mark.parametrize(("wallet", "joined"), [(1, False), (2, False), (3, True)])
def test_an_open_seat_for_a_wallet_that_holds_just_its_price(wallet: int, joined: bool) -> None:
    # A contest from its start costs one credit; an open seat at a break costs what going on costs, three.
    machine = {"title": "walk", "price": 1, "price_to_go_on": 3, "seats": 2}
    floor = floor_of({"walk": machine}, {"walk": walk(20, periods=2)}, WILLING)
    visits = let_in(floor, Comer(), Comer(1), Comer(wallet, at=5.0))
    assert len(offers_of(floor, visits[2], "join")) == joined
    assert (floor.ledger.plays.table()["began"] == 20.0).any() == joined


@pytest.mark.parametrize(("wallet", "goes_to"), [(1, "wallet empty"), (2, "near"), (3, "dear")])
def test_a_choice_of_what_the_wallet_holds_just_the_price_of(wallet: int, goes_to: str) -> None:
    machine = {"price": 2, "play_time": "1 min"}
    floor = floor_of({"near": machine, "dear": {**machine, "price": 3, "appeal": 600.0}}, {})
    visit = floor.context.habits.traits.begin_visit(Person(0), 0.0)
    visit.wallet = wallet
    chosen = floor.choice.choose(visit, 0.0, ())
    assert (chosen if isinstance(chosen, str) else chosen.key) == goes_to


@pytest.mark.parametrize(("wallet", "empty"), [(0, 1), (1, 1), (2, 0)])
def test_a_wallet_is_empty_below_the_lowest_price(wallet: int, empty: int) -> None:
    floor = floor_of({"desk": {"price": 2, "play_time": "1 min"}}, {}, {"choice": {"leave": 600.0}})
    let_in(floor, Comer(wallet))
    assert floor.ledger.visits.table()["empty"].tolist() == [empty]


@pytest.mark.parametrize(
    ("wallet", "limit", "periods", "reason"),
    [
        (6, 3, 1, "limit reached"), (6, 4, 2, "limit reached"), (5, 4, 2, "wallet empty"), (5, 5, 2, "wallet empty"),
        (6, 5, 2, "limit reached"), (6, 6, 3, "wallet empty"),
    ],
)  # fmt: skip
def test_a_limit_that_lets_go_just_the_price(wallet: int, limit: int, periods: int, reason: str) -> None:
    # Two credits a period. Of what keeps a visitor from one more it is the limit where the wallet covers just that.
    machine = {"title": "walk", "price": 2}
    floor = floor_of({"walk": machine}, {"walk": walk(20, periods=3)}, WILLING, [f"limits.spend_per_visit={limit}"])
    person = Person(0)
    visit = floor.context.habits.traits.begin_visit(person, 0.0)
    visit.wallet = wallet
    floor.door.count_wallet(visit)
    floor.ledger.inside += 1
    Process(floor.context.env, visit_steps(floor.context, floor.door, floor.choice, visit))
    run_out(floor.context.env)
    assert floor.ledger.plays.table()["periods"].tolist() == [periods]
    assert visit.last_no == reason


# -- what several visitors see of one contest ----------------------------------------------------------------------

PULLED: Raw = {
    "play": "turns", "periods": 2, "period_length": "60 s", "mean_attack": "4 s",
    "attempts": {"shot": {"share": 1.0, "points": 1, "chance": "40 %"}},
    "rules": {"pull": {"kind": "slope", "per_point": "6 pp", "cap": 8}},
}  # fmt: skip
NOTICE, GIVEN = 0.5, 0.4


def pulled(draws: Sequence[float], skills: Sequence[float]) -> tuple[Floor, list[Visit], list[Any]]:
    """A contest of two people under a rule that helps whoever is behind; and its breaks, looked up in the chain."""
    people = {**WILLING, "suspicion": {"notice": NOTICE, "given_win": GIVEN}}
    people["buy_in"] = {"go_on": SURELY, "again": NEVER}
    floor = floor_of({"game": {"title": "game", "price": 1, "seats": 2}}, {"game": PULLED}, people)
    visits = let_in(floor, Comer(skill=skills[0], play=draws), Comer(skill=skills[1]))
    title = floor.rows[0].title
    assert title is not None
    table = title.tables.near(skills[0] - skills[1], draws[0], "visitor", "visitor")
    breaks = [table.begin(draws[1])]
    for draw in draws[2:4]:
        breaks.append(table.play(breaks[-1], draw))
    return floor, visits, breaks


@pytest.mark.parametrize("better", [0, 1])
def test_the_side_that_concedes_helped_scores_grows_suspicious(better: int) -> None:
    skills = (1.2, -1.2) if better == 0 else (-1.2, 1.2)
    draws = (0.5, 0.5, 0.9, 0.9) if better == 0 else (0.5, 0.5, 0.1, 0.1)
    floor, visits, breaks = pulled(draws, skills)
    plays = np.sort(floor.ledger.plays.table(), order="person")
    assert plays["result"].tolist() == ([1.0, 0.0] if better == 0 else [0.0, 1.0])
    # Help goes to who is behind, the weaker: its scores are what the better side notices.
    assert visits[better].suspicion > 5 * visits[1 - better].suspicion
    helped = [[here.noticeable[side] for here in breaks[:2]] for side in (0, 1)]
    for side in (0, 1):
        expected = NOTICE * sum(helped[1 - side])
        if plays["result"][side] == 1.0:  # help to one's own side in the last period of a contest won
            expected += NOTICE * GIVEN * helped[side][1]
        assert visits[side].suspicion == pytest.approx(expected, rel=1e-12)


def test_a_win_given_by_help_is_noticed_by_the_winner_alone() -> None:
    # The weaker wins from behind: helped in the last period, and the better side concedes.
    floor, visits, breaks = pulled((0.5, 0.5, 0.8, 0.005), (0.2, -0.2))
    plays = np.sort(floor.ledger.plays.table(), order="person")
    assert breaks[1].margin > 0 and plays["result"].tolist() == [0.0, 1.0]
    by_a, by_b = (sum(here.noticeable[side] for here in breaks[:2]) for side in (0, 1))
    last = breaks[1].noticeable[1]
    assert last > 0.05
    assert visits[0].suspicion == pytest.approx(NOTICE * by_b, rel=1e-12)
    assert visits[1].suspicion == pytest.approx(NOTICE * (by_a + GIVEN * last), rel=1e-12)


def test_both_sides_meet_the_chance_and_the_closeness_of_their_own_score() -> None:
    floor = floor_of(
        {"walk": {"title": "walk", "price": 1, "seats": 2}}, {"walk": walk(HALF, periods=2)},
        {"buy_in": {"go_on": SURELY}},
    )  # fmt: skip
    visits = let_in(floor, Comer(play=[0.5, 0.5, 0.8, 0.5]), Comer())
    (offer,) = offers_of(floor, visits[0], "break")
    margin = int(offer["margin"])
    assert margin >= 2
    for visit, lead in zip(visits, (margin, -margin), strict=True):
        # Of two offers, at the break and after the contest, the second is at the belief of that time.
        met = [float(row["perceived"]) for row in offers_of(floor, visit, "again")]
        assert visit.chance_met == pytest.approx(naive(lead) + sum(met), rel=1e-6)
        after = int(offers_of(floor, visit, "again")[0]["margin"])
        closeness = [math.exp(-((points / SPREAD) ** 2) / 2) for points in (lead, after)]
        assert visit.closeness_met == pytest.approx(sum(closeness), rel=1e-9)
        line = floor.ledger.offers.by_margin[0][lead]
        assert (line.offered, line.refused) == (1, 0)
        true = float(offers_of(floor, visit, "break")[0]["true_chance"])
        assert (line.perceived, line.true) == pytest.approx((naive(lead), true), rel=1e-6)


# -- ladders and winners -------------------------------------------------------------------------------------------

LADDER: Raw = {"ladder": {"step": 0.5, "rungs": 3}}


def rungs_shown(floor: Floor, visit: Visit) -> list[float]:
    """How far the computer side has stepped up, by the skill gaps of a visitor's contests; they are all of skill 0."""
    rows = floor.ledger.plays.table()
    return [-float(row["gap"]) / 0.5 for row in rows if row["person"] == visit.person.number]


@pytest.mark.parametrize("seats", [1, 2])
def test_wins_against_the_computer_climb_the_ladder(seats: int) -> None:
    machine = {"title": "walk", "price": 1, "seats": seats, "wait_for_opponent": "0 s"}
    floor = floor_of({"walk": machine}, {"walk": walk(21, **LADDER)}, WILLING)
    # Won, won, lost, and one more; a draw for the table, one for the start, one for the period each.
    wins, loses = [0.0, 0.5, 0.99], [0.0, 0.5, 0.01]
    (visit,) = let_in(floor, Comer(4, play=[*wins, *wins, *loses, *wins]))
    assert rungs_shown(floor, visit) == [0, 1, 2, 0]


def test_wins_against_people_do_not() -> None:
    machine = {"title": "walk", "price": 1, "seats": 2, "wait_for_opponent": "0 s"}
    floor = floor_of({"walk": machine}, {"walk": walk(21, **LADDER)}, WILLING)
    wins = [0.0, 0.5, 0.99]
    # Two contests between people, both won by the first, who then plays the computer; after a win one rung up.
    visits = let_in(floor, Comer(4, play=wins * 4), Comer(2))
    rows = floor.ledger.plays.table()
    mine = rows[rows["person"] == 0]
    assert mine["against"].tolist() == [1, 1, 0, 0] and (mine["result"] == 1.0).all()
    assert rungs_shown(floor, visits[0]) == [0, 0, 0, 1]


def test_a_win_against_a_person_ends_a_run_against_the_computer() -> None:
    machine = {"title": "walk", "price": 1, "seats": 2, "wait_for_opponent": "0 s"}
    floor = floor_of({"walk": machine}, {"walk": walk(21, **LADDER)}, WILLING)
    wins = [0.0, 0.5, 0.99]
    # The second comes while the first plays the computer, and has one credit.
    visits = let_in(floor, Comer(4, play=wins * 4), Comer(1, at=5.0))
    rows = floor.ledger.plays.table()
    mine = rows[rows["person"] == 0]
    assert mine["against"].tolist() == [0, 1, 0, 0] and (mine["result"] == 1.0).all()
    assert rungs_shown(floor, visits[0]) == [0, 0, 0, 1]


@pytest.mark.parametrize(("line", "opposite"), [(0, [1, 1, 1]), (1, [1, 2, 1])])
def test_a_loser_gives_up_the_seat_only_to_a_line(line: int, opposite: list[int]) -> None:
    machine = {"title": "walk", "price": 1, "seats": 2, "winner_stays": True, "alone": "wait"}
    floor = floor_of({"walk": machine}, {"walk": walk(21)}, WILLING)
    wins = [0.0, 0.5, 0.99]
    visits = let_in(floor, Comer(3, play=wins * 3), Comer(3), *(Comer(2, at=5.0) for _ in range(line)))
    rows = np.sort(floor.ledger.plays.table(), order=["began", "person"])
    assert [int(row["person"]) for row in rows if row["person"]][:3] == opposite
    assert visits[0].plays == 3 and visits[0].wins == 3
    # Who stays seated has taken the offer of another contest; who has to get up was offered none.
    assert line or (visits[1].offers, visits[1].taken) == (3, 2)


# -- lines ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ahead", [0, 1, 3])
def test_a_line_weighs_by_the_people_ahead_and_oneself(ahead: int) -> None:
    # docs/model.md, the choice of a machine: u = - waiting (people ahead + 1) / machines + ln(machines); a row with a
    # free machine has no waiting term.
    machine = {"price": 1, "play_time": "1 min"}
    people = {"choice": {"waiting": 0.7}, "stay": {"median": "1 h"}}
    floor = floor_of({"busy": {**machine, "count": 2}, "free": {**machine, "appeal": -1.0}}, {}, people)
    busy, free = floor.rows
    busy.free.clear()
    for number in range(ahead):
        busy.join_line(floor.context.habits.traits.begin_visit(Person(10 + number), 0.0), None)
    assert busy.waiting == ahead == len(busy.in_line())
    first, second = math.exp(-0.7 * (ahead + 1) / 2 + math.log(2)), math.exp(-1.0)
    share = first / (first + second)
    for draw, chosen in ((share - EDGE, busy), (share + EDGE, free)):
        visit = floor.context.habits.traits.begin_visit(Person(0), 0.0)
        visit.choice = iter([draw])
        assert floor.choice.choose(visit, 0.0, ()) is chosen


def test_a_line_counts_those_who_wait_and_nobody_else() -> None:
    floor = floor_of({"desk": {"price": 1, "play_time": "100 s", "line_limit": 2}}, {}, {"stay": {"median": "1 h"}})
    counts: list[tuple[int, int]] = []
    row = floor.rows[0]
    let_in(
        floor, *(Comer(1, at=float(at)) for at in (0, 10, 20, 30)),
        then=[(at, lambda: counts.append((row.waiting, row.joined))) for at in (5.0, 15.0, 25.0, 35.0, 105.0, 205.0)],
    )  # fmt: skip
    assert counts == [(0, 0), (1, 1), (2, 2), (2, 2), (1, 2), (0, 2)]
    assert sorted(floor.ledger.visits.table()["plays"].tolist()) == [0, 1, 1, 1]


@pytest.mark.parametrize("dearer", [2, 3, 4])
def test_a_price_rise_sends_away_who_cannot_pay_it(dearer: int) -> None:
    machine = {"price": 2, "play_time": "100 s", "prices": {"12:00": dearer}}
    floor = floor_of({"desk": machine}, {}, {"stay": {"median": "1 h"}})
    row = floor.rows[0]
    visits = let_in(
        floor, *(Comer(wallet, at=at) for at, wallet in ((0.0, 2), (1.0, 2), (2.0, 3), (3.0, 9))),
        then=[(50.0, lambda: row.set_price(Price(dearer, dearer), floor.context.env.now))],
    )  # fmt: skip
    pays = [True, dearer <= 2, dearer <= 3, True]
    assert [bool(visit.plays) for visit in visits] == pays
    for visit, played in zip(visits, pays, strict=True):
        left = floor.ledger.visits.table()["left"][
            [row["person"] for row in floor.ledger.visits.table()].index(visit.person.number)
        ]
        assert played or (left == 50.0 and visit.last_no == "wallet empty")
        assert visit.gave_up == 0
