"""A person who may visit more than once: skill, beliefs about titles, and suspicion carried from visit to visit."""

from __future__ import annotations

from venue.visitors.perception import belief_score, weighed


class Record:
    """What a person has seen of one title, and what follows from it until the next contest.

    Attributes
    ----------
    wins, losses
        The Beta belief: prior and finished contests.
    contests
        Contests finished.
    belief
        Mean of the Beta belief: the chance to win that the person believes in.
    weight
        The belief as decisions weigh it.
    score
        `belief_score` of the belief.
    experience
        Weight of the experienced reading of the scoreboard.
    talent, skill
        Skill at the title in log-odds, without and with practice.
    """

    __slots__ = ("belief", "contests", "experience", "losses", "score", "skill", "talent", "weight", "wins")

    def __init__(self, wins: float, losses: float, skill: float, weighting: float = 1.0) -> None:
        self.wins = wins
        self.losses = losses
        self.contests = 0
        self.belief = belief = wins / (wins + losses)
        self.weight = weighed(belief, weighting)
        self.score = belief_score(belief)
        self.experience = 0.0
        self.talent = self.skill = skill


class Person:
    """Somebody who may come more than once.

    Attributes
    ----------
    number
        Order of first arrival; the key of the person's random streams.
    visits
        Visits begun so far.
    records
        What they have seen of each title, by its place in the scenario.
    suspicion, suspicion_at
        Level of suspicion, and when (in seconds) it was that high; it fades from there.
    outing
        The next outing of the party whose first this is: the earliest day, and a uniform for the hour. None if there
        is none, or another has the first number.
    """

    __slots__ = ("number", "outing", "records", "skill", "suspicion", "suspicion_at", "visits")

    def __init__(self, number: int) -> None:
        self.number = number
        self.visits = 0
        self.skill: float | None = None
        self.records: dict[int, Record] = {}
        self.suspicion = 0.0
        self.suspicion_at = 0.0
        self.outing: tuple[int, float] | None = None
