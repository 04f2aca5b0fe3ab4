"""Each term of each choice, by hand: one input moves, and the utility moves by just its taste."""

from __future__ import annotations

import math

import pytest

from venue.scenario.people import BuyIn, People, Return
from venue.streams import Streams
from venue.visitors.choices import RefusalReason, buy_in_decision
from venue.visitors.coming_back import ComingBack
from venue.visitors.perception import Closeness, Scoreboard, belief_score, naive_chance
from venue.visitors.person import Person, Record
from venue.visitors.traits import Traits
from venue.visitors.visit import Company, Leave, Visit

from .decisions import buy_in_choice

TASTES = Return.model_validate(
    {
        "constant": -1.0, "chance": 2.0, "closeness": 1.5, "wins": 0.8, "waiting": 0.25, "suspicion": 0.6,
        "empty_wallet": 0.4, "delay_median": "5 days", "delay_spread": 0.5,
    }
)  # fmt: skip


def visit(number: int = 0, **had: float) -> Visit:
    """A visit with two offers and two contests behind it, and what is said of it."""
    found = Visit(Person(number), 0.0, Streams(1, 0))
    found.offers, found.finished = 2, 2
    for name, value in had.items():
        setattr(found, name, value)
    return found


@pytest.mark.parametrize(
    ("had", "empty", "moved"),
    [
        ({}, False, 0.0),
        ({"chance_met": 1.0}, False, 2.0 * 1.0 / 2),  # a mean chance of a half over two offers
        ({"closeness_met": 1.0}, False, 1.5 * 1.0 / 2),
        ({"wins": 1.0}, False, 0.8 * 1.0 / 2),  # one of two contests won
        ({"waited": 120.0}, False, -0.25 * 2),  # two minutes in lines
        ({"suspicion": 0.5}, False, -0.6 * 0.5),
        ({}, True, -0.4),
    ],
)
def test_each_term_of_coming_back(had: dict[str, float], empty: bool, moved: float) -> None:
    assert ComingBack(TASTES).utility(visit(**had), empty) == pytest.approx(-1.0 + moved, abs=1e-12)


def test_a_visit_without_offers_or_contests_divides_by_one() -> None:
    assert ComingBack(TASTES).utility(visit(offers=0, finished=0, chance_met=1.0), False) == pytest.approx(1.0)


def test_a_party_decides_by_the_mean_of_its_utilities() -> None:
    # Utilities of -3 and +5: their mean 1 is taken with chance 0.73, their sum 2 with 0.88. The draw of the first
    # visitor decides, so one between the two tells them apart.
    class Stated(ComingBack):
        def utility(self, visit: Visit, empty: bool) -> float:
            return (-3.0, 5.0)[visit.person.number % 2]

    mean, total = 1 / (1 + math.exp(-1.0)), 1 / (1 + math.exp(-2.0))
    decided = 0
    for number in range(0, 400, 2):
        party = [Leave(visit(number + place), 0.0, "had enough", False) for place in (0, 1)]
        uniform = party[0].visit.draws("home")[0]
        assert (Stated(TASTES).decide(party) is not None) == (uniform < mean)
        decided += mean <= uniform < total
    assert decided > 10  # so many parties would come back if utilities were summed


def offer(**tastes: float) -> BuyIn:
    none = {"price": 0.0, "chance": 0.0, "closeness": 0.0, "played": 0.0, "suspicion": 0.0, "tired": 0.0}
    return BuyIn.model_validate(none | tastes)


@pytest.mark.parametrize(
    ("taste", "moment", "utility"),
    [
        ("price", (0.0, 0.0, 0, 0.0, 0.0), 0.2 - 0.7 * 2),
        ("chance", (0.5, 0.0, 0, 0.0, 0.0), 0.2 + 0.7 * 0.5),
        ("closeness", (0.0, 0.5, 0, 0.0, 0.0), 0.2 + 0.7 * 0.5),
        ("played", (0.0, 0.0, 3, 0.0, 0.0), 0.2 - 0.7 * 3),
        ("suspicion", (0.0, 0.0, 0, 0.5, 0.0), 0.2 - 0.7 * 0.5),
        ("tired", (0.0, 0.0, 0, 0.0, 0.5), 0.2 - 0.7 * 0.5),
    ],
)
def test_each_term_of_buying_in(taste: str, moment: tuple[float, float, int, float, float], utility: float) -> None:
    accepts = buy_in_choice(offer(**{taste: 0.7}), 0.2, 2)
    chance = 1 / (1 + math.exp(-utility))
    assert accepts(*moment, chance - 1e-9) and not accepts(*moment, chance + 1e-9)


@pytest.mark.parametrize(
    ("lost", "closeness", "played", "suspicion", "tired", "reason"),
    [
        (0.5, 1.0, 0, 0.0, 0.0, "chance gone"),
        (0.0, 0.5, 0, 0.0, 0.0, "chance gone"),  # far apart
        (0.0, 1.0, 1, 0.0, 0.0, "tired"),
        (0.0, 1.0, 0, 0.0, 0.5, "tired"),
        (0.0, 1.0, 0, 0.5, 0.0, "suspicious"),
        (0.0, 1.0, 0, 0.0, 0.0, "had enough"),
        (0.4, 1.0, 0, 0.0, 0.5, "tired"),
        (0.5, 1.0, 0, 0.4, 0.4, "chance gone"),
        (0.0, 1.0, 0, 0.5, 0.4, "suspicious"),
        (0.5, 1.0, 0, 0.5, 0.0, "chance gone"),  # as much of one as of the other
    ],
)
def test_what_weighs_most_is_the_reason(
    lost: float, closeness: float, played: int, suspicion: float, tired: float, reason: str
) -> None:
    tastes = offer(chance=1.0, closeness=1.0, played=0.3, suspicion=1.0, tired=1.0)
    assert RefusalReason(tastes).why_not(lost, closeness, played, suspicion, tired) == reason


def test_what_a_finished_contest_teaches() -> None:
    people = People.model_validate(
        {
            "belief": {"wins": 3.0, "losses": 1.0, "learning_half_life": 4.0, "close_loss": 0.25},
            "skill": {"mean": 0.2, "sd": 0.0, "practice": 0.1, "practice_limit": 0.15},
        }
    )
    traits = Traits(people, Streams(1, 0))
    record = traits.meet(Person(0), 0)
    assert (record.wins, record.losses, record.belief, record.experience) == (3.0, 1.0, 0.75, 0.0)
    assert record.skill == pytest.approx(0.2)
    traits.learn(record, 0.0, close=True)  # a close loss counts a quarter
    assert (record.wins, record.losses, record.contests) == (3.25, 1.75, 1)
    assert record.belief == pytest.approx(0.65) and record.experience == pytest.approx(1 / 5)
    assert record.skill == pytest.approx(0.3)
    traits.learn(record, 1.0, close=True)
    assert (record.wins, record.losses) == (4.25, 1.75)
    assert record.experience == pytest.approx(2 / 6) and record.skill == pytest.approx(0.35)  # no more than the limit
    assert record.score == pytest.approx(belief_score(4.25 / 6))


def test_a_company_talks_toward_its_mean_and_calls_home_who_follows() -> None:
    visits = [visit(number, suspicion=level) for number, level in enumerate((0.0, 0.6))]
    company = Company(2, True, list(visits))
    company.talk(0.5)
    assert [item.suspicion for item in visits] == pytest.approx([0.15, 0.45])
    visits[1].follows = True
    assert not company.say_goodbye(Leave(visits[0], 0.0, "tired", False))
    assert visits[1].called_home and company.inside == [visits[1]]
    assert company.say_goodbye(Leave(visits[1], 0.0, "tired", False))


def test_who_sits_with_others_talks_and_who_plays_alone_does_not() -> None:
    class Row:
        def __init__(self, seats: int) -> None:
            self.seats = seats

    for seats, heard in ((1, 0.6), (2, 0.3)):
        visits = [visit(0, suspicion=0.0), visit(1, suspicion=0.6)]
        visits[1].at = Row(seats)  # type: ignore[assignment]
        Company(2, True, list(visits)).talk(1.0)
        assert visits[1].suspicion == pytest.approx(heard)


def test_what_is_learnt_is_weighed_as_decisions_weigh_it() -> None:
    # Prelec's weight of 4/5 with exponent a half: exp(-sqrt(-ln 0.8)).
    people = People.model_validate({"belief": {"wins": 3.0, "losses": 1.0, "weighting": 0.5}})
    traits = Traits(people, Streams(1, 0))
    record = traits.meet(Person(0), 0)
    traits.learn(record, 1.0, close=False)
    assert record.belief == pytest.approx(0.8)
    assert record.weight == pytest.approx(math.exp(-math.sqrt(-math.log(0.8))))


@pytest.mark.parametrize("called", [False, True])
@pytest.mark.parametrize("is_another", [False, True])
def test_one_who_is_called_home_plays_on_and_begins_no_other(called: bool, is_another: bool) -> None:
    refusal = buy_in_decision(offer(), 50.0, 0, is_another=is_another)
    one = visit()
    one.stay, one.called_home, one.buy_in = 100.0, called, iter([0.5])
    offers, chance, closeness = one.offers, one.chance_met, one.closeness_met
    expected = "party left" if called and is_another else ""
    assert refusal(one, 1.0, math.inf, 0.25, 0.5, 0.25) == expected
    # The offer was met, whatever became of it.
    assert (one.offers, one.chance_met, one.closeness_met) == (offers + 1, chance + 0.25, closeness + 0.5)


def test_a_visit_has_a_key_of_its_own() -> None:
    keys = [Visit(person, 0.0, Streams(1, 0)).key for person in (Person(0), Person(1), Person(2))]
    assert len(set(keys)) == 3


def test_the_reading_of_a_score_by_hand() -> None:
    # Half of the contest left, spread 4, two points ahead, belief a half: Phi((2 / 4) / sqrt(1/2)).
    expected = 0.5 * (1 + math.erf(0.5 / math.sqrt(0.5) / math.sqrt(2)))
    assert naive_chance(2.0, 0.5, 4.0, 0.5) == pytest.approx(expected)
    board = Scoreboard(2, 4.0)
    assert board.perceived(2.0, 1, belief_score(0.5), 0.9, 0.25) == pytest.approx(expected + 0.25 * (0.9 - expected))
    assert board.perceived(-2.0, 1, belief_score(0.5), 0.9, 0.0) == pytest.approx(1 - expected)
    # A belief above a half reads a level score as better than even: Phi(tau s / sqrt(tau)), s its score.
    ahead = 0.5 * (1 + math.erf(0.5 * belief_score(0.7) / math.sqrt(0.5) / math.sqrt(2)))
    assert board.perceived(0.0, 1, belief_score(0.7), 0.0, 0.0) == pytest.approx(ahead) and ahead > 0.5
    assert Closeness(4.0)[2] == pytest.approx(math.exp(-0.125)) == Closeness(4.0)[-2]


def test_a_record_starts_at_its_prior() -> None:
    record = Record(1.0, 3.0, 0.4)
    assert (record.belief, record.weight, record.contests, record.talent, record.skill) == (0.25, 0.25, 0, 0.4, 0.4)
