"""Contests played out at random, second by second or score by score: what the exact contest is checked against.

Written from the description of a title and its rules alone. It shares no code with the chain: it reads the title's
fields, and its arrays run over contests where the chain's run over margins.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from venue.contest.match import Match
from venue.scenario.title import Attempt, Title

from .sampled_rules import Flags, Numbers, SampledRules, View, Whole, team_of

A, B, NOBODY = 0, 1, 2


@dataclass
class Sampled:
    """Many contests of one title: a row or a number for each.

    Attributes
    ----------
    margin
        Final margin of side A.
    won
        1 if side A won, 0 if it lost, 1/2 if the contest was drawn.
    points, assisted
        Points of each side, and its scores that would have failed unaided: shape (2, contests). In a race expected
        lengths run, and those owed to rules.
    lead_changes
        Times that the lead went to the side that did not have it last.
    trailed, came_back
        Whether a side trailed at the turn, and how much of a win it then had.
    """

    margin: Whole
    won: Numbers
    points: Numbers
    assisted: Numbers
    lead_changes: Whole
    trailed: Numbers
    came_back: Numbers


def log_odds(chance: float) -> float:
    return float(np.log(chance) - np.log1p(-chance))


def from_log_odds(value: float) -> float:
    return float(1.0 / (1.0 + np.exp(-value)))


class Play:
    """All contests of one title at once, at the same second."""

    def __init__(self, title: Title, match: Match, contests: int, seed: int) -> None:
        self.title, self.match = title, match
        self.rules = SampledRules(title, match)
        self.random = np.random.default_rng(seed)
        self.contests = contests
        self.margin, self.led, self.lead_changes = np.zeros((3, contests), dtype=np.int64)
        self.trailing = np.zeros(contests, dtype=np.int64)  # who trailed at the turn: -1 side A, 1 side B
        self.points, self.assisted = np.zeros((2, 2, contests))
        self.run, self.missed = np.zeros((2, 2, contests), dtype=np.int64)
        self.crew = sorted({player for kind in title.attempts.values() for player in kind.taken_by})
        self.own_run = {player: np.zeros((2, contests), dtype=np.int64) for player in self.crew}
        self.own_missed = {player: np.zeros((2, contests), dtype=np.int64) for player in self.crew}
        self.age = np.zeros(contests, dtype=np.int64)  # seconds that the attack has taken
        self.in_overtime = False
        self.period = np.ones(contests, dtype=np.int64)
        # By turns: who attacks. In open play: who scored last.
        self.side = self.toss(contests)

    def toss(self, contests: int) -> Whole:
        if self.title.play == "open":
            return np.full(contests, NOBODY)
        return self.random.integers(0, 2, contests)

    def play(self) -> Sampled:
        title = self.title
        (self.to_points if title.first_to else self.against_the_clock)()
        margin, points, assisted = self.margin.copy(), self.points.copy(), self.assisted.copy()
        lead_changes = self.lead_changes.copy()
        won = np.where(margin > 0, 1.0, np.where(margin < 0, 0.0, 0.5))
        if title.tie == "overtime":
            won = self.overtimes()
        if title.tie == "next score":
            self.side = self.toss(self.contests)
            self.forget()
            while len(level := np.flatnonzero(self.margin == 0)):
                self.second(level, 1, 1)
            won = (self.margin > 0).astype(float)
        back = np.where(self.trailing < 0, won, np.where(self.trailing > 0, 1.0 - won, 0.0))
        return Sampled(margin, won, points, assisted, lead_changes, np.abs(self.trailing).astype(float), back)

    def forget(self) -> None:
        """Nothing is remembered."""
        for counts in (self.run, self.missed, self.age, *self.own_run.values(), *self.own_missed.values()):
            counts[:] = 0

    def overtimes(self) -> Numbers:
        """Overtime after overtime among those still level, each from a toss with nothing remembered; who wins."""
        assert self.title.overtime is not None
        length, self.in_overtime = int(self.title.overtime.length), True
        while len(level := np.flatnonzero(self.margin == 0)):
            self.forget()
            self.side = self.toss(self.contests)
            for left in range(length, 0, -1):
                happens = level[self.random.random(len(level)) < self.hazard]
                self.second(happens, left, left)
        return (self.margin > 0).astype(float)

    @property
    def hazard(self) -> float:
        """Chance that something may happen in a second; where attacks have a limit each second counts."""
        return 1.0 if self.title.attack_limit else 1.0 / (self.title.mean_attack or 1.0)

    def second(self, who: Whole, left: int, left_in_period: int) -> None:
        """A second of play in the contests `who`; without a limit on attacks theirs is over."""
        if not self.title.attack_limit:
            self.resolve(who, left, left_in_period)
            return
        over = self.random.random(len(who)) < 1.0 / (self.title.mean_attack or 1.0)
        late = ~over & (self.age[who] + 1 >= self.title.attack_limit)
        if self.title.at_limit == "attempt":
            over |= late
        else:
            out_of_time = who[late]
            self.side[out_of_time] = 1 - self.side[out_of_time]
            self.age[out_of_time] = 0
        goes_on = who[~over & ~late]
        self.age[goes_on] += 1
        self.age[who[over]] = 0
        self.resolve(who[over], left, left_in_period)

    # -- what decides a contest ------------------------------------------------------------------------------------

    def against_the_clock(self) -> None:
        title = self.title
        if title.race:
            seconds = round(title.race.distance / title.race.pace / title.periods)
        else:
            seconds = int(title.period_length or 0)
        everybody = np.arange(self.contests)
        left = title.periods * seconds
        for period in range(1, title.periods + 1):
            self.begin(everybody, period)
            for left_in_period in range(seconds, 0, -1):
                if left == (seconds if title.periods > 1 else seconds // 2):
                    self.turn(everybody)
                if title.race:
                    self.run_a_second(left, left_in_period)
                else:
                    happens = np.flatnonzero(self.random.random(self.contests) < self.hazard)
                    self.second(happens, left, left_in_period)
                left -= 1

    def to_points(self) -> None:
        """Until somebody has the points and the lead; a period is over when somebody has its share of the points."""
        title = self.title
        goal, periods = title.first_to, title.periods
        assert goal is not None
        self.begin(np.arange(self.contests), 1)
        turned = np.zeros(self.contests, dtype=bool)
        while True:
            most = self.points.max(axis=0)
            over = (most >= goal.points) & (np.abs(self.margin) >= goal.win_by)
            for period in range(2, periods + 1):
                new = ~over & (self.period == period - 1) & (most >= np.ceil(goal.points * (period - 1) / periods))
                self.begin(np.flatnonzero(new), period)
            last = self.period == periods
            at_turn = ~turned & (last if periods > 1 else (most >= np.ceil(goal.points / 2)) & (goal.points > 1))
            self.turn(np.flatnonzero(at_turn))
            turned |= at_turn
            if over.all():
                return
            self.second(np.flatnonzero(~over), 0, 0)

    def begin(self, who: Whole, period: int) -> None:
        self.period[who] = period
        self.age[who] = 0
        if self.title.period_start == "toss":
            self.side[who] = self.toss(len(who))
        elif self.title.period_start == "alternate":
            self.side[who] = A if period % 2 else B

    def turn(self, who: Whole) -> None:
        self.trailing[who] = np.sign(self.margin[who])

    # -- one second ------------------------------------------------------------------------------------------------

    def view(self, who: Whole, side: int | Whole, left: int, left_in_period: int) -> View:
        """What a side sees of the contests `who`."""
        d = np.where(np.asarray(side) == A, -self.margin[who], self.margin[who])
        needs = None
        if self.title.first_to:
            most, lead = self.points[:, who].max(axis=0), np.abs(self.margin[who])
            needs = np.maximum(self.title.first_to.points - most, self.title.first_to.win_by - lead).astype(np.int64)
        period = np.full(len(who), self.title.periods) if self.in_overtime else self.period[who]
        return View(d, self.run[side, who], self.missed[side, who], period, left, left_in_period, needs,
                    in_overtime=self.in_overtime)  # fmt: skip

    def resolve(self, who: Whole, left: int, left_in_period: int) -> None:
        """An attack is over, or a score is made, in each of the contests `who`."""
        if self.title.play == "turns":
            attacker = self.side[who]
            chance = self.rules.lost(attacker, self.view(who, 1 - attacker, left, left_in_period))
            lost = self.random.random(len(who)) < chance
            self.side[who[lost]] = 1 - attacker[lost]
            who = who[~lost]
        kinds = list(self.title.attempts.items())
        bounds = self.mixed(who, left).cumsum(axis=0)
        drawn = (self.random.random(len(who)) * bounds[-1] >= bounds).sum(axis=0)
        for number, (name, kind) in enumerate(kinds):
            those = who[drawn == number]
            luck = self.random.random(len(those))
            act = self.attempt if self.title.play == "turns" else self.next_score
            act(those, luck, name, kind, left, left_in_period)

    def mixed(self, who: Whole, left: int) -> Numbers:
        """Shares of the attempt kinds in each of the contests: shape (kinds, contests)."""
        shares = np.array([[kind.share] * len(who) for kind in self.title.attempts.values()])
        for mix in self.title.mixes.values():
            if mix.difficulties is not None:
                continue
            side = self.side[who] if self.title.play == "turns" else np.zeros(len(who), dtype=np.int64)
            see = self.view(who, side, left, 0)
            holds = np.ones(len(who), dtype=bool)
            if mix.left is not None:
                holds &= left <= mix.left
            if mix.points_left is not None:
                holds &= np.asarray(see.needs) <= mix.points_left
            if mix.behind_from is not None:
                holds &= see.d >= mix.behind_from
            if mix.behind_to is not None:
                holds &= see.d <= mix.behind_to
            if mix.serves != "both":
                seated = np.array([self.match.side_a, self.match.side_b])[side]
                holds &= seated == mix.serves.rstrip("s")
            new = np.array([mix.shares.get(name, 0.0) for name in self.title.attempts])
            shares[:, holds] = new[:, None]
        return shares

    def level(self, side: int, category: str | None, player: str | None = None) -> float:
        """Log-odds that the level of a side, or of one of its players, in a category of skill is worth."""
        found = self.stated(side, category, player)
        if found is None:
            return 0.0
        rows = np.array(self.title.level_tables.get(str(category), self.title.level_table))
        return float(np.interp(found, rows[:, 0], rows[:, 1]))

    def stated(self, side: int, category: str | None, player: str | None) -> float | None:
        """The level itself: the team's player's, else the side's player's, else the team's, else the side's."""
        who = (self.match.side_a, self.match.side_b)[side]
        name = team_of(self.title, self.match, side)
        sheets: list[dict[str, float]] = []
        if player is not None:
            if name is not None:
                sheets.append(self.title.roster[name].players.get(player, {}))
            players = {"visitor": self.title.visitor_players, "computer": self.title.computer_players}[who]
            sheets.append(players.get(player, {}))
        if name is not None:
            sheets.append(self.title.roster[name].levels)
        sheets.append({"visitor": self.title.visitor_levels, "computer": self.title.computer_levels}[who])
        for sheet in sheets:
            if category in sheet:
                return sheet[str(category)]
        return None

    def guard(self, side: int, category: str | None) -> float:
        """What a side's defence is worth: its own level, else the mean over its players."""
        if self.stated(side, category, None) is not None or not self.crew:
            return self.level(side, category)
        return float(np.mean([self.level(side, category, player) for player in self.crew]))

    def ahead(self) -> float:
        """Skill at large of side A less that of side B, teams included."""
        names = [team_of(self.title, self.match, side) for side in (A, B)]
        added = [self.title.roster[name].skill if name is not None else 0.0 for name in names]
        return self.match.gap + added[A] - added[B]

    def attempt(self, who: Whole, luck: Numbers, name: str, kind: Attempt, left: int, left_in_period: int) -> None:
        """An attempt in each of the contests; where players take it, one after the other."""
        if not kind.taken_by:
            self.taken(who, luck, name, kind, left, left_in_period, None)
            return
        players = list(kind.taken_by)
        drawn = self.random.choice(len(players), size=len(who), p=list(kind.taken_by.values()))
        for number, player in enumerate(players):
            those = drawn == number
            self.taken(who[those], luck[those], name, kind, left, left_in_period, player)

    def taken(
        self, who: Whole, luck: Numbers, name: str, kind: Attempt, left: int, left_in_period: int, player: str | None
    ) -> None:
        title, side = self.title, self.side[who]
        guard = kind.against or title.defence
        skill = [
            (1, -1)[each] * self.ahead() + self.level(each, kind.skill, player) - self.guard(1 - each, guard)
            for each in (A, B)
        ]
        odds = log_odds(kind.chance or 0.0)
        base = np.where(side == A, from_log_odds(odds + skill[A]), from_log_odds(odds + skill[B]))
        see = self.view(who, side, left, left_in_period)
        if player is not None:
            see.own_run, see.own_missed = self.own_run[player][side, who], self.own_missed[player][side, who]
        stopped = self.rules.blocked(side, self.view(who, 1 - side, left, left_in_period), name)
        scored = luck < self.rules.attempt(side, base, see, name, kind.points) * (1.0 - stopped)
        unaided = luck < np.clip(base, title.minimum_chance, title.maximum_chance) * (1.0 - title.block)
        self.missed[side, who] = np.where(scored, 0, self.missed[side, who] + 1)
        if player is not None:
            missed, run = self.own_missed[player], self.own_run[player]
            missed[side, who] = np.where(scored, 0, missed[side, who] + 1)
            run[side, who] += scored
        for runs in self.own_run.values():  # what the other side has made is answered
            runs[1 - side, who] *= ~scored
        for scorer in (A, B):
            self.score(who[scored & (side == scorer)], scorer, kind.points)
            self.assisted[scorer, who[scored & ~unaided & (side == scorer)]] += 1
        self.side[who] = np.where(scored & title.scorer_keeps, side, 1 - side)

    def next_score(self, who: Whole, luck: Numbers, name: str, kind: Attempt, left: int, left_in_period: int) -> None:
        again = 0.5 if self.title.scores_again is None else self.title.scores_again
        skill = self.ahead() + self.level(A, kind.skill) - self.level(B, kind.skill)
        by_last = [from_log_odds(log_odds(even) + skill) for even in (again, 1 - again, 0.5)]
        views = (self.view(who, side, left, left_in_period) for side in (A, B))
        unaided, chance = self.rules.next_score(np.array(by_last)[self.side[who]], *views, name, kind.points)
        a_scores, a_unaided = luck < chance, luck < unaided
        self.score(who[a_scores], A, kind.points)
        self.score(who[~a_scores], B, kind.points)
        self.assisted[A, who[a_scores & ~a_unaided]] += 1
        self.assisted[B, who[~a_scores & a_unaided]] += 1
        self.side[who] = np.where(a_scores, A, B)

    def score(self, who: Whole, scorer: int, worth: int) -> None:
        self.points[scorer, who] += worth
        self.run[scorer, who] += 1
        self.run[1 - scorer, who] = 0
        self.move(who, np.full(len(who), worth if scorer == A else -worth))

    def move(self, who: Whole, gain: Whole) -> None:
        """The margin changes; whoever is ahead now leads, and a level score leaves who led last."""
        self.margin[who] += gain
        leads = np.sign(self.margin[who])
        turned: Flags = leads * self.led[who] < 0
        self.lead_changes[who[turned]] += 1
        self.led[who] = np.where(leads == 0, self.led[who], leads)

    def run_a_second(self, left: int, left_in_period: int) -> None:
        """In a race: the gap changes by the two paces, rounded at random, and by luck of the variance that is left."""
        race, everybody = self.title.race, np.arange(self.contests)
        assert race is not None
        skill = self.ahead() + self.level(A, race.skill) - self.level(B, race.skill)
        paces = []
        for side in (A, B):
            base = 1.0 + race.pace_per_skill * (0.5 - side) * skill
            pace = self.rules.pace(side, base, self.view(everybody, side, left, left_in_period))
            self.points[side] += race.pace * pace
            self.assisted[side] += race.pace * np.maximum(0.0, pace - base)
            paces.append(pace)
        mean = race.pace * (paces[A] - paces[B])
        up = mean - np.floor(mean)
        gain = np.floor(mean) + (self.random.random(self.contests) < up)
        # Luck comes a length at a time, each time with a variance of two thirds at most.
        times = int(np.ceil(race.wander**2 / (2 / 3)))
        each = (race.wander**2 - up * (1 - up)) / times
        for _ in range(times):
            luck = self.random.random(self.contests)
            gain += np.where(luck < each / 2, 1, np.where(luck < each, -1, 0))
        for side, sign in ((A, 1), (B, -1)):
            see = self.view(everybody, side, left, left_in_period)
            for chances, lengths in self.rules.draws(side, see):
                odds = np.cumsum(chances, axis=0)
                drawn = (self.random.random(self.contests) >= odds).sum(axis=0)  # the last is nothing
                gain += sign * np.append(lengths, 0)[drawn]
                mean = lengths @ chances
                self.points[side] += mean
                self.assisted[side] += mean
        self.move(everybody, gain.astype(np.int64))


def play_by_play(title: Title, match: Match, contests: int, seed: int) -> Sampled:
    """Play contests of a title from start to end."""
    return Play(title, match, contests, seed).play()
