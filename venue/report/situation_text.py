"""One situation of a title in words: every chance there, and each rule's part in it with its reason."""

from __future__ import annotations

from venue.contest.situation import TURNOVER, ChanceThere, RulePart, Situation
from venue.contest.transitions import PACE
from venue.report.figures import number
from venue.report.heading import LONGEST_NAME, heading
from venue.report.layout import Part
from venue.report.tables import Cell, Column, Said, Table
from venue.report.title_tables import unit
from venue.scenario.title import Title
from venue.study.registry import TITLE_MEASURES
from venue.study.situation import SituationResult
from venue.units import show_seconds

_SHARE = TITLE_MEASURES["level"]
_NO_PART = 5e-7


def situation_parts(result: SituationResult) -> list[Part]:
    """Where the contest stands, the chances there, and why."""
    title = result.design
    name = title.label or result.title
    head = f"{heading(result.loaded, name)}, exact, at strength {result.match.strength:g}. {_where(title, result)}"
    parts: list[Part] = [head, chances_table(result)]
    if title.rules:
        parts += ["Each rule, in percentage points, and why it acts or does not:", parts_table(result)]
    return parts


def _where(title: Title, result: SituationResult) -> str:
    at = result.at
    who = "computer" if at.side and result.match.side_b == "computer" else "visitor"
    stands = (
        "level" if at.margin == 0 else f"{'ahead' if at.margin > 0 else 'behind'} by {abs(at.margin)} {unit(title)}"
    )
    when = f"in period {at.period} of {title.periods}"
    if at.left is not None:
        when = f"{show_seconds(at.left)} left {when}"
    if at.score is not None:
        stands += f" at {at.score[0]} : {at.score[1]}"
    return f"Side {'AB'[at.side]} ({who}) is {stands}, {when}{_memory(at)}."


def _memory(at: Situation) -> str:
    told = [f"{at.run} unanswered score{'s' if at.run > 1 else ''}"] if at.run else []
    told += [f"{at.missed} miss{'es' if at.missed > 1 else ''} in a row"] if at.missed else []
    return f"; it has {' and '.join(told)}" if told else ""


def chances_table(result: SituationResult) -> Table:
    """A row a chance: as written, with skill, with every rule."""
    columns = (
        Column("attempt", "chance of", "words", longest=LONGEST_NAME),
        *(Column(key, head, measure=_SHARE, digits=2) for key, head in (
            ("written", "written, %"), ("unaided", "with skill\nalone, %"), ("chance", "with all\nrules, %"))),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [Said(item.attempt, _of(item)), item.written, item.unaided, item.chance] for item in result.chances
    ]
    return Table("chances", columns, rows)


def _of(item: ChanceThere) -> str:
    return "losing the attack" if item.attempt == TURNOVER else item.attempt


def parts_table(result: SituationResult) -> Table:
    """A row a chance and rule: its part, and why."""
    columns = (
        Column("attempt", "chance of", "words", longest=LONGEST_NAME),
        Column("rule", "rule", "words", longest=LONGEST_NAME), Column("kind", "kind", "words", spare=1),
        Column("part", "part, pp"), Column("why", "why", "words"),
    )  # fmt: skip
    rows: list[list[Cell]] = [
        [
            Said(item.attempt, _of(item)), part.rule, part.kind,
            Said(part.part, number(100 * part.part, 2, "+") if abs(part.part) > _NO_PART else "-"),
            Said(part.reason, why(part, item.attempt, in_points=result.at.left is None)),
        ]
        for item in result.chances
        for part in item.parts
    ]  # fmt: skip
    return Table("parts", columns, rows, below="why")


def why(part: RulePart, attempt: str, *, in_points: bool = False) -> str:
    """Why a rule acts on an attempt's chance, or does not, in words."""
    said = _why(part, "pace" if attempt == PACE else "chance", in_points)
    # A turnover rule goes by how the side stands that defends.
    return f"defence {said}" if attempt == TURNOVER and part.reason in ("behind", "ahead", "level") else said


def _why(part: RulePart, what: str, in_points: bool) -> str:
    asked, found = (None if value is None else f"{value:g}" for value in (part.asked, part.found))
    begins = f"{asked} points" if in_points else show_seconds(part.asked or 0.0)
    behind = None if part.found is None else _stands(part.found)
    words = {
        "would tie": "a success would tie",
        "would lead": "a success would take the lead",
        "would come within": f"a success would come within {asked or 0}",
        "behind": f"behind by {asked or found}" + (" or more" if asked else ""),
        "ahead": f"ahead by {found}",
        "level": "level",
        "run": f"{found} unanswered scores, {asked} are asked for",
        "missed": f"{found} misses in a row, {asked} are asked for",
        "holds": f"the {what} would be under its minimum",
        "switched off": "its switch is off",
        "strength 0": "strength, or its weight, is 0",
        "serves the other side": "serves the other side",
        "other periods": "holds in other periods",
        "not yet": f"holds from {begins} left",
        "other attempts": "holds for other attempts",
        "outside its band": f"holds {'from' if _is_under(part) else 'up to'} {asked} behind; here {behind}",
        "does not matter": f"covers other attempts; here {behind}",
        "run too short": f"asks for {asked} unanswered scores; here {found}",
        "too few misses": f"asks for {asked} misses in a row; here {found}",
        "trailing side only": "acts for who trails",
        "chance already above": f"the {what} is no less without it",
        "another lifts more": "another rule lifts it more, and acts alone",
        "nothing here": f"changes nothing; here {behind}",
    }
    return words[part.reason]


def _is_under(part: RulePart) -> bool:
    return part.asked is not None and part.found is not None and part.found < part.asked


def _stands(behind: float) -> str:
    return "level" if behind == 0 else f"{'behind' if behind > 0 else 'ahead'} {abs(behind):g}"
