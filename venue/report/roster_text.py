"""A roster in words: each team's strength, who is out of line, who beats whom, and what would bring them in."""

from __future__ import annotations

from venue.report.columns import short
from venue.report.figures import number
from venue.report.heading import LONGEST_NAME, heading
from venue.report.layout import Lines, Part
from venue.report.tables import Cell, Column, Table
from venue.scenario.words import listed, shown
from venue.study.registry import TITLE_MEASURES
from venue.study.roster import LevelledRoster, RosterResult

_SHARE = TITLE_MEASURES["level"]
_LONGEST_HEAD = 7
# A pair that the strengths explain so badly is worth a word.
_MISFIT = 0.02


def roster_parts(result: RosterResult) -> list[Part]:
    """The answer, strengths, and the chances of each against each."""
    title = result.design
    opposite = "another visitor" if result.match.side_b == "visitor" else "the computer"
    head = (
        f"{heading(result.loaded, title.label or result.title)}, exact, at strength {result.match.strength:g}: "
        f"{len(result.teams)} teams, a visitor against {opposite}."
    )
    parts: list[Part] = [head, _answer(result), strengths_table(result)]
    parts += ["Chance that the row's team (side A) beats the column's (side B):", matrix_table(result)]
    if result.strengths.misfit > _MISFIT:
        parts.append(
            f"One figure each leaves up to {100 * result.strengths.misfit:.1f} percentage points of a pair's chance "
            "unexplained."
        )
    return parts


def _answer(result: RosterResult) -> str:
    out, bound = result.out_of_line, f"{result.within:g} log-odds of the mean"
    names = [_name(result, team) for team in out]
    said = f"All teams lie within {bound}" if not out else f"Out of line, further than {bound}: {listed(names, 'and')}"
    side = result.strengths.side_a
    ground = f" To be side A is worth {number(side, 2, '+')}." if abs(side) >= 0.005 else ""
    return f"{said}. Spread (standard deviation): {number(result.strengths.spread, 2)} log-odds.{ground}"


def _name(result: RosterResult, team: str) -> str:
    return result.design.roster[team].label or team


def strengths_table(result: RosterResult) -> Table:
    """A row a team, the strongest first."""
    columns = (
        Column("team", "team", "words", longest=LONGEST_NAME),
        Column("strength", "strength,\nlog-odds", digits=2, sign="+"),
        Column("wins", "beats the\nmean, %", measure=_SHARE, digits=1), Column("in_line", "in line", "words"),
    )  # fmt: skip
    order = sorted(zip(result.strengths.of.tolist(), result.teams, strict=True), key=lambda item: -item[0])
    rows: list[list[Cell]] = [
        [_name(result, team), strength, result.against_mean(team), "no" if team in result.out_of_line else "yes"]
        for strength, team in order
    ]
    return Table("strengths", columns, rows)


def matrix_table(result: RosterResult) -> Table:
    """Chance to win, a row for each team of side A and a column for each of side B."""
    teams = result.teams
    columns = (
        Column("team", "%", "words", longest=LONGEST_NAME),
        *(Column(team, short(_name(result, team), _LONGEST_HEAD), measure=_SHARE, digits=1) for team in teams),
    )
    rows: list[list[Cell]] = [
        [_name(result, team), *row] for team, row in zip(teams, result.wins.tolist(), strict=True)
    ]
    return Table("roster", columns, rows)


def levelled_parts(found: LevelledRoster) -> list[Part]:
    """What brings the roster within its bound, and what it then is."""
    before, after = found.before, found.after
    if not found.skills:
        return [_answer(before), "Nothing needs to change."]
    lines = "\n".join(
        f"[{shown(('titles', before.title, 'roster', team))}]\nskill = {skill:.6g}"
        for team, skill in found.skills.items()
    )
    answer = (
        f"Within {before.within:g} log-odds of the mean once {len(found.skills)} of {len(before.teams)} teams change "
        f"their skill; the spread falls from {number(before.strengths.spread, 2)} to "
        f"{number(after.strengths.spread, 2)}."
    )
    columns = (
        Column("team", "team", "words", longest=LONGEST_NAME), Column("skill_was", "skill\nwas", digits=3),
        Column("skill", "will be", digits=3), Column("was", "strength\nwas", digits=2, sign="+"),
        Column("will_be", "will be", digits=2, sign="+"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [_name(before, team), before.design.roster[team].skill, after.design.roster[team].skill, was, will]
        for team, was, will in zip(before.teams, before.strengths.of.tolist(), after.strengths.of.tolist(), strict=True)
    ]
    return [answer, Table("levelled", columns, rows), "To put in:", Lines(lines)]
