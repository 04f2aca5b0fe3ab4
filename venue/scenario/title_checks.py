"""What no single key of a title can tell: parts of a title that must agree with each other and with its form."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from venue import units
from venue.errors import Fault, Problem
from venue.scenario.rules import (
    Block,
    Change,
    ClockedSlope,
    ClosingChance,
    Drought,
    LeastChance,
    LuckyDraw,
    RuleBase,
    RunBoost,
    Turnover,
    check_ascending,
)
from venue.scenario.title import Title
from venue.scenario.words import listed, nearest, shown, value_text, with_value

# Keys about attacks, attempts and scores, which a race has not.
_FOR_POINTS = (
    "play", "mean_attack", "attempts", "scorer_keeps", "scores_again", "period_start", "turnover", "tie",
    "minimum_chance", "maximum_chance", "defence", "block",
    "mixes", "attack_limit", "overtime",
)  # fmt: skip
_COUNTING = (ClosingChance, RunBoost, Drought, LeastChance, Turnover, Block)


def title_checks(path: str, title: Title) -> Iterator[Problem]:
    """Everything wrong between the parts of a title; `path` is where it stands in the file."""
    yield from _form(path, title)
    if title.form == "race":
        yield from _race(path, title)
    else:
        yield from _points(path, title)
    yield from _times(path, title)
    yield from _mixes(path, title)
    yield from _overtime(path, title)
    yield from _levels(path, title)
    yield from _players(path, title)
    for key, rule in title.rules.items():
        yield from _rule(f"{path}.{shown(('rules', key))}", title, rule)


def _form(path: str, title: Title) -> Iterator[Problem]:
    forms = [key for key in ("period_length", "first_to", "race") if getattr(title, key) is not None]
    if not forms:
        yield Problem(f"{path}.period_length", "is missing", 'add it, like period_length = "50 s"')
    if len(forms) > 1:
        yield Problem(
            f"{path}.{forms[1]}", f"stands beside {forms[0]}, but a contest has one way to end", "take one out"
        )
    if title.first_to is not None and len(forms) == 1:
        if title.tie != "draw":
            yield Problem(f'{path}.tie = "{title.tie}"', "means nothing in a contest to N points", "take it out")
        most = title.first_to.points // title.most_points
        if title.periods > max(most, 1):
            yield Problem(
                f"{path}.periods = {title.periods}",
                f"is too many for {title.first_to.points} points: one score could pass over a whole period",
                f"write {max(most, 1)} or less",
            )


def _race(path: str, title: Title) -> Iterator[Problem]:
    for key in _FOR_POINTS:
        # By value: a resolved scenario states every key.
        if getattr(title, key) != Title.model_fields[key].get_default(call_default_factory=True):
            yield Problem(f"{path}.{key}", "means nothing in a race, where nobody scores", "take it out")


def _points(path: str, title: Title) -> Iterator[Problem]:
    if not title.attempts:
        yield Problem(f"{path}.attempts", "is missing", f"add [{path}.attempts.NAME]")
    if title.mean_attack is None:
        yield Problem(f"{path}.mean_attack", "is missing", 'add it, like mean_attack = "5 s"')
    total = sum(attempt.share for attempt in title.attempts.values())
    if title.attempts and abs(total - 1.0) > 1e-6:
        change = f"add {1 - total:.6g} to" if total < 1 else f"take {total - 1:.6g} off"
        yield Problem(f"{path}.attempts", f"shares sum to {total:.6g}, must sum to 1", f"{change} one of them")
    yield from _play(path, title)
    if title.minimum_chance > title.maximum_chance:
        yield Problem(
            f"{path}.minimum_chance = {title.minimum_chance:g}",
            f"must be at most maximum_chance = {title.maximum_chance:g}",
            "change one of the two",
        )
    if title.first_to is not None and title.play == "turns":
        made = {name for name, attempt in title.attempts.items() if attempt.share}
        best = max((title.attempts[name].chance or 0.0 for name in made), default=0.0)
        if max(best, title.minimum_chance) == 0.0 or title.turnover == 1.0:
            yield Problem(f"{path}.first_to", "is never reached, since nobody can score", "give an attempt a chance")


def _play(path: str, title: Title) -> Iterator[Problem]:
    """What belongs to play by turns, and what to open play."""
    for key, attempt in title.attempts.items():
        where = f"{path}.{shown(('attempts', key, 'chance'))}"
        if title.play == "turns" and attempt.chance is None:
            yield Problem(where, "is missing, play by turns needs it", 'add it, like chance = "50 %"')
        if title.play == "open" and attempt.chance is not None:
            yield Problem(f"{where} = {attempt.chance:g}", "means nothing in open play", "take it out")
        if title.play == "open" and attempt.against is not None:
            where = f"{path}.{shown(('attempts', key, 'against'))}"
            yield Problem(with_value(where, attempt.against), "belongs to play by turns", "take it out")
    if title.play == "turns" and title.scores_again is not None:
        yield Problem(f"{path}.scores_again", "belongs to open play", 'take it out, or write play = "open"')
    turns_only = {
        "scorer_keeps": title.scorer_keeps,
        "turnover": title.turnover > 0,
        "block": title.block > 0,
        "attack_limit": title.attack_limit is not None,
        "period_start": title.period_start == "alternate",
        "defence": title.defence is not None,
    }
    for key, used in turns_only.items():
        if title.play == "open" and used:
            value = with_value(f"{path}.{key}", getattr(title, key))
            yield Problem(value, "belongs to play by turns", 'take it out, or write play = "turns"')


def _times(path: str, title: Title) -> Iterator[Problem]:
    length = title.period_length
    if length is not None:
        where = f"{path}.period_length = {units.show_seconds(length)}"
        if length < 1 or length != round(length):
            near = units.show_seconds(max(1.0, round(length)))
            yield Problem(where, "must be whole seconds, at least 1 s", f'write "{near}"')
        elif length > units.HOUR:
            yield Problem(where, "must be at most 1 h", "split it into periods")
    if title.race is not None:
        period = title.race.distance / title.race.pace / title.periods
        where = f"{path}.race.distance = {title.race.distance:g}"
        if period < 1:
            yield Problem(where, f"is run in {period:.2g} s a period, must take at least 1 s", "lengthen it")
        elif period > units.HOUR:
            yield Problem(
                where, f"takes {units.show_seconds(round(period))} a period, must be at most 1 h", "shorten it"
            )
    if title.mean_attack is not None and title.mean_attack < 1.0:
        yield Problem(
            f"{path}.mean_attack = {units.show_seconds(title.mean_attack)}",
            "must be at least 1 s, the step of the clock",
            'write "1 s" or more',
        )


# Each second of an attack is a thing to remember.
_LONGEST_ATTACK = 120


def _overtime(path: str, title: Title) -> Iterator[Problem]:
    """Overtime, and the limit on attacks: whole seconds, and what goes with what."""
    if (title.tie == "overtime") != (title.overtime is not None) and title.form == "clocked":
        if title.overtime is None:
            yield Problem(f"{path}.overtime", "is missing", 'add it, like overtime = { length = "60 s" }')
        else:
            yield Problem(f"{path}.overtime", 'needs tie = "overtime"', "write it, or take the overtime out")
    lengths = {"overtime.length": title.overtime.length if title.overtime else None, "attack_limit": title.attack_limit}
    for key, length in lengths.items():
        if length is not None and (length < 1 or length != round(length)):
            where = f"{path}.{key} = {units.show_seconds(length)}"
            yield Problem(where, "must be whole seconds, at least 1 s", f'write "{max(1, round(length))} s"')
    if title.attack_limit is not None and title.attack_limit > _LONGEST_ATTACK:
        where = f"{path}.attack_limit = {units.show_seconds(title.attack_limit)}"
        yield Problem(where, f'must be at most "{_LONGEST_ATTACK} s"', "shorten it, or take it out")
    if title.overtime is not None and title.overtime.length > units.HOUR:
        where = f"{path}.overtime.length = {units.show_seconds(title.overtime.length)}"
        yield Problem(where, "must be at most 1 h", "shorten it")
    for name, rule in title.rules.items():
        if rule.overtime == "only" and title.overtime is None:
            where = f'{path}.{shown(("rules", name))}.overtime = "only"'
            yield Problem(where, "the title has no overtime", "add one, or take the line out")
        elif rule.overtime == "only" and rule.periods is not None:
            where = f"{path}.{shown(('rules', name))}.periods"
            yield Problem(where, "a rule for overtime only holds in no period", "take it out")


def _mixes(path: str, title: Title) -> Iterator[Problem]:
    """Other shares of the attempts: what they share out, and when."""
    for key, mix in title.mixes.items():
        where = f"{path}.{shown(('mixes', key))}"
        for name in mix.shares:
            if name not in title.attempts:
                yield Problem(f"{where}.shares.{shown((name,))}", "no such attempt", nearest(name, title.attempts))
        total = sum(mix.shares.values())
        if abs(total - 1.0) > 1e-6:
            change = f"add {1 - total:.6g} to" if total < 1 else f"take {total - 1:.6g} off"
            yield Problem(f"{where}.shares", f"sum to {total:.6g}, must sum to 1", f"{change} one of them")
        if title.play == "open":
            for each in ("behind_from", "behind_to"):
                if getattr(mix, each) is not None:
                    yield Problem(f"{where}.{each}", "belongs to play by turns", "take it out")
            if mix.serves != "both":
                yield Problem(f"{where}.serves", "belongs to play by turns", "take it out")
        for each in ("left", "points_left"):
            if getattr(mix, each) is not None:
                yield from _end(where, title, each)
        for name in mix.difficulties or ():
            yield from _difficulty(f"{where}.difficulties", title, name)
    for key, rule in title.rules.items():
        for name in rule.weight_at:
            yield from _difficulty(f"{path}.{shown(('rules', key, 'weight_at'))}", title, name)


def _difficulty(path: str, title: Title, name: str) -> Iterator[Problem]:
    if name not in title.difficulties:
        fix = nearest(name, title.difficulties) if title.difficulties else f"add difficulties = {{ {name} = 0.0 }}"
        yield Problem(f"{path}.{shown((name,))}", "no such difficulty", fix)


def _all_levels(title: Title) -> Iterator[tuple[tuple[str, ...], str, float]]:
    """Every level of skill that the title states: where, its category, the level."""
    for key in ("visitor_levels", "computer_levels"):
        yield from (((key, category), category, level) for category, level in getattr(title, key).items())
    for key in ("visitor_players", "computer_players"):
        for player, levels in getattr(title, key).items():
            yield from (((key, player, category), category, level) for category, level in levels.items())
    for name, team in title.roster.items():
        yield from ((("roster", name, "levels", each), each, level) for each, level in team.levels.items())
        for player, levels in team.players.items():
            for category, level in levels.items():
                yield ("roster", name, "players", player, category), category, level


def _levels(path: str, title: Title) -> Iterator[Problem]:
    """Categories of skill: the tables of levels, the levels of sides, players and teams, and who names which."""
    tables: dict[tuple[str, ...], tuple[tuple[float, float], ...]] = {("level_table",): title.level_table}
    tables |= {("level_tables", category): rows for category, rows in title.level_tables.items()}
    for table, rows in tables.items():
        try:
            check_ascending([level for level, _ in rows], table[0])
        except Fault as fault:
            yield Problem(f"{path}.{shown(table)}", fault.what, fault.fix)
            return
    for key, category, level in _all_levels(title):
        where = f"{path}.{shown(key)} = {level:g}"
        levels = [row[0] for row in title.table_of(category)]
        source = f"level_tables.{category}" if category in title.level_tables else "level_table"
        if not levels:
            yield Problem(where, "needs a level_table to say what it means", "add level_table = [[1, -1.0], [9, 1.0]]")
        elif not levels[0] <= level <= levels[-1]:
            yield Problem(where, f"must lie between {levels[0]:g} and {levels[-1]:g}, as {source} does", "change it")
    yield from _categories(path, title)


def _categories(path: str, title: Title) -> Iterator[Problem]:
    places: dict[str, tuple[str, ...]] = {}
    for place, said, _ in _all_levels(title):
        places.setdefault(said, place)
    known = list(places)
    named: list[tuple[tuple[str, ...], str, str | None]] = [((), "defence", title.defence)]
    named += [(("attempts", key), "skill", attempt.skill) for key, attempt in title.attempts.items()]
    named += [(("attempts", key), "against", attempt.against) for key, attempt in title.attempts.items()]
    if title.race is not None:
        named.append((("race",), "skill", title.race.skill))
    for table, name, category in named:
        if category is not None and category not in known:
            fix = nearest(category, known) if known else f'add [{path}.visitor_levels] with "{category}" = 5'
            yield Problem(with_value(f"{path}.{shown((*table, name))}", category), "no side has a level of it", fix)
    used = {category for _, _, category in named}
    for unused in (category for category in places if category not in used):
        fix = "name it as the skill of an attempt, or take it out"
        yield Problem(f"{path}.{shown(places[unused])}", "no attempt and no defence takes it", fix)
    for category in title.level_tables:
        if category not in known:
            where = f"{path}.{shown(('level_tables', category))}"
            yield Problem(where, "no side has a level of it", nearest(category, known) if known else "take it out")


def _players(path: str, title: Title) -> Iterator[Problem]:
    """Who takes attempts within a side, and the teams of the roster."""
    for key, attempt in title.attempts.items():
        where, total = f"{path}.{shown(('attempts', key, 'taken_by'))}", sum(attempt.taken_by.values())
        if attempt.taken_by and title.play == "open":
            yield Problem(where, "belongs to play by turns", "take it out")
        elif attempt.taken_by and abs(total - 1.0) > 1e-6:
            change = f"add {1 - total:.6g} to" if total < 1 else f"take {total - 1:.6g} off"
            yield Problem(where, f"shares sum to {total:.6g}, must sum to 1", f"{change} one of them")
    sides: dict[tuple[str, ...], Any] = {(key,): getattr(title, key) for key in ("visitor_players", "computer_players")}
    sides |= {("roster", name, "players"): team.players for name, team in title.roster.items()}
    for place, players in sides.items():
        for player in players:
            if player not in title.players:
                fix = nearest(player, title.players) if title.players else f'write taken_by = {{ "{player}" = 1.0 }}'
                yield Problem(f"{path}.{shown((*place, player))}", "takes no attempt", fix)
    for key in ("visitor_team", "computer_team"):
        name = getattr(title, key)
        if name is not None and name not in title.roster:
            fix = nearest(name, title.roster) if title.roster else f"add [{path}.roster.{name}]"
            yield Problem(with_value(f"{path}.{key}", name), "no such team in the roster", fix)


def _whom(path: str, title: Title, rule: RuleBase) -> Iterator[Problem]:
    """Whom a rule serves, beyond the side: teams, players, who sits opposite."""
    if rule.serves == rule.facing == "computer":
        yield Problem(f'{path}.facing = "computer"', "the computer never sits opposite itself", "take it out")
    for team in rule.teams or ():
        if team not in title.roster:
            fix = nearest(team, title.roster) if title.roster else "take it out, or add a roster"
            yield Problem(with_value(f"{path}.teams", team), "no such team in the roster", fix)
    if isinstance(rule, RunBoost | Drought) and rule.counts == "player":
        for name, attempt in title.attempts.items():
            if not attempt.taken_by:
                where = f"attempts.{name} does not say who takes it"
                fix = f'write [titles.NAME.attempts.{name}] taken_by = {{ one = 0.5, other = 0.5 }}, or counts = "side"'
                yield Problem(f'{path}.counts = "player"', where, fix)
                return


def _rule(path: str, title: Title, rule: RuleBase) -> Iterator[Problem]:
    for period in rule.periods or ():
        if not 1 <= period <= title.periods:
            only = "1, the title's only one" if title.periods == 1 else f"between 1 and {title.periods}"
            yield Problem(f"{path}.periods = {value_text(period)}", f"no such period, must be {only}", "write another")
    yield from _whom(path, title, rule)
    if title.form == "race":
        yield from _rule_of_race(path, rule)
        return
    if isinstance(rule, LuckyDraw):
        yield Problem(f'{path}.kind = "lucky draw"', "draws lengths, which only a race has", "take the rule out")
    for attempt in rule.attempts or ():
        if attempt not in title.attempts:
            where = with_value(f"{path}.attempts", attempt)
            yield Problem(where, "no such attempt", nearest(attempt, title.attempts))
    if isinstance(rule, Turnover) and rule.attempts is not None:
        yield Problem(f"{path}.attempts", "a turnover comes before any attempt", "take it out")
    for kind, base in ((Turnover, "turnover"), (Block, "block")):
        if isinstance(rule, kind) and title.play == "open":
            fix = 'take the rule out, or write play = "turns"'
            yield Problem(f'{path}.kind = "{base}"', "needs play by turns", fix)
        elif isinstance(rule, kind) and rule.relative and not getattr(title, base):
            what = f"a share of the title's {base} chance, which is nil"
            yield Problem(f"{path}.relative = true", what, f'give the title a {base}, like {base} = "10 %"')
    if isinstance(rule, Drought) and title.play == "open":
        yield Problem(f'{path}.kind = "drought"', "counts misses, which open play has not", "take the rule out")
    if isinstance(rule, ClosingChance):
        yield from _end(path, title, "last" if rule.last is not None else "last_points")
        length = title.period_length
        if rule.last is not None and length is not None and rule.last > length:
            yield Problem(
                f"{path}.last = {units.show_seconds(rule.last)}",
                f"must be at most period_length = {units.show_seconds(length)}",
                f'write "{units.show_seconds(length)}" or less',
            )
    yield from _steps(path, title, rule)


def _rule_of_race(path: str, rule: RuleBase) -> Iterator[Problem]:
    kind = str(getattr(rule, "kind", ""))
    if isinstance(rule, _COUNTING):
        what = f"counts {'scores' if isinstance(rule, RunBoost) else 'attempts'}, which a race has not"
        yield Problem(
            f'{path}.kind = "{kind}"', what, f"write a {listed(['slope', 'table', 'clocked slope', 'lucky draw'])}"
        )
    if rule.attempts is not None:
        yield Problem(f"{path}.attempts", "means nothing in a race", "take it out")
    if isinstance(rule, LuckyDraw) and rule.every < 1.0:
        where = f"{path}.every = {units.show_seconds(rule.every)}"
        yield Problem(where, "must be at least 1 s, the step of the clock", 'write "1 s" or more')
    if isinstance(rule, Change) and rule.relative:
        what = "means nothing in a race, where changes are shares of the pace already"
        yield Problem(f"{path}.relative = true", what, "take it out")
    if isinstance(rule, ClockedSlope) and any(step.left is None for step in rule.steps):
        yield Problem(f"{path}.steps", "count points_left, which a race has not", 'write left, like left = "20 s"')


def _steps(path: str, title: Title, rule: RuleBase) -> Iterator[Problem]:
    if isinstance(rule, ClockedSlope):
        for key in sorted({"left" if step.left is not None else "points_left" for step in rule.steps}):
            yield from _end(f"{path}.steps", title, key)


def _end(path: str, title: Title, key: str) -> Iterator[Problem]:
    """Whether a rule counts what is left in what the title's form has: seconds or points."""
    in_points = key.endswith("points") or key.startswith("points")
    if in_points and title.form != "first to":
        other = "last" if key == "last_points" else "left"
        yield Problem(f"{path}.{key}", "needs a contest to N points; this one has a clock", f'write {other} = "20 s"')
    if not in_points and title.form == "first to":
        other = "last_points" if key == "last" else "points_left"
        yield Problem(f"{path}.{key}", "needs a clock; this contest ends by points", f"write {other} = 3")
