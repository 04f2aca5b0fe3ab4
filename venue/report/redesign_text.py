"""What solving for several numbers came to, in words: the lines to put in, and what they change."""

from __future__ import annotations

from collections.abc import Sequence

from venue.report import figures
from venue.report.heading import LONGEST_NAME
from venue.report.layout import Lines, Part
from venue.report.tables import Cell, Column, Said, Table
from venue.scenario.load import Loaded
from venue.scenario.words import listed
from venue.study.design_front import DesignFront
from venue.study.redesign import Redesign
from venue.study.title_figures import Aim, is_share, label

_KEY = 44


def redesign_parts(found: Redesign) -> list[Part]:
    """The answer, the lines to put in, the numbers and the figures."""
    return [
        f"{_name(found.loaded, found.title)}: {_answer(found)}", Lines(found.lines), numbers_table(found),
        aims_table(found), *_ends(found),
    ]  # fmt: skip


def _name(loaded: Loaded, title: str) -> str:
    return loaded.scenario.titles[title].label or title


def _answer(found: Redesign) -> str:
    asked = listed([aim_text(aim) for aim in found.reach], "and")
    kept = f", with {listed([aim_text(aim) for aim in found.keep], 'and')} kept," if found.keep else ""
    if found.reached:
        be = "is" if len(found.reach) == 1 else "are"
        return f"{asked} {be} reached{kept} by the least change from the present design, which is to put in"
    return f"{_fight(found)} The best compromise that was found is to put in"


def _fight(found: Redesign) -> str:
    named = [aim_text(aim) for aim in found.fight]
    if len(named) > 1:
        return f"{listed(named, 'and')} fight: all cannot be had at once, but without any one of them the others can."
    if named:
        return f"{named[0]} is out of reach; without it the others can be had."
    alone = len(found.reach) + len(found.keep) == 1
    return f"{aim_text(found.reach[0])} is out of reach." if alone else "These are out of reach, even without one."


def aim_text(aim: Aim) -> str:
    """An aim as people read it: `close finishes 62 %`, `better side wins at least 69 %`."""
    how = {"=": "", ">=": "at least ", "<=": "at most "}[aim.sign]
    return f"{label(aim.name)} {how}{_figure(aim.name, aim.value, 'g')}"


def _figure(name: str, value: float, style: str = "") -> str:
    scale, mark = (100.0, " %") if is_share(name) else (1.0, "")
    return (f"{scale * value:.10g}" if style else figures.number(scale * value, 2)) + mark


def _ends(found: Redesign) -> list[Part]:
    if not found.at_bound:
        return []
    stand = "stands" if len(found.at_bound) == 1 else "stand"
    return [f"{listed(found.at_bound, 'and')} {stand} at the end of what was allowed; --between KEY=LOW:HIGH says what "
            "a number may be."]  # fmt: skip


def numbers_table(found: Redesign) -> Table:
    """The numbers: what they were, are to be, and may be."""
    columns = (
        Column("key", "number", "words", longest=_KEY), Column("was", "was"), Column("to_be", "to be"),
        Column("from", "may be\nfrom", spare=1), Column("to", "to", spare=1),
    )  # fmt: skip
    prefix = f"titles.{found.title}."
    rows: list[list[Cell]] = [
        [Said(key, key.removeprefix(prefix)), *(Said(value, f"{value:.5g}") for value in row)]
        for key, *row in zip(found.keys, found.before, found.values, found.lows, found.highs, strict=True)
    ]
    return Table("numbers", columns, rows)


def aims_table(found: Redesign) -> Table:
    """Every figure: what was asked of it, what it was and will be."""
    columns = (
        Column("result", "result", "words", longest=LONGEST_NAME), Column("asked", "asked", "words"),
        Column("was", "was"), Column("will_be", "will be"), Column("change", "change"),
    )  # fmt: skip
    asked = {
        name: " ".join(f"{'' if aim.sign == '=' else aim.sign + ' '}{_figure(name, aim.value, 'g')}"
                       for aim in (*found.reach, *found.keep) if aim.name == name)
        for name in found.was
    }  # fmt: skip
    rows: list[list[Cell]] = []
    for name, was in found.was.items():
        will = found.will_be[name]
        scale, mark = (100.0, " %") if is_share(name) else (1.0, "")
        change = figures.number(scale * (will - was), 2, "+") + mark
        rows.append([Said(name, label(name)), asked[name], Said(was, _figure(name, was)),
                     Said(will, _figure(name, will)), Said(will - was, change)])  # fmt: skip
    return Table("figures", columns, rows)


def front_parts(front: DesignFront) -> list[Part]:
    """The front as a table, what today's design leaves lying, and the lines of each design."""
    first, second = front.wishes
    name = _name(front.loaded, front.title)
    said = f"{name}: {len(front.designs)} designs of which none is better in both {label(first.name)} and " \
           f"{label(second.name)}. {_today(front)}"  # fmt: skip
    if len(front.designs) == 1:
        said = f"{name}: one design is best in both {label(first.name)} and {label(second.name)}. {_today(front)}"
    kept = [f"All keep {listed([aim_text(aim) for aim in front.keep], 'and')}."] if front.keep else []
    parts: list[Part] = [said, front_table(front), *kept]
    for number, design in enumerate(front.designs, 1):
        parts += [f"Design {number}:", Lines(design.lines)]
    return parts


def _today(front: DesignFront) -> str:
    told = [
        f"{_figure(wish.name, gain).removesuffix(' %')}{' points' if is_share(wish.name) else ''} "
        f"{'more' if wish.more else 'less'} {label(wish.name)}"
        for wish, gain in zip(front.wishes, front.gain, strict=True)
        if round(100.0 * gain if is_share(wish.name) else gain, 2) > 0.0
    ]
    if not told:
        return "Today's design is one that none beats."
    return f"Today's design leaves {listed(told, 'or')} lying, at no loss of the other."


def front_table(front: DesignFront) -> Table:
    """A design a row: the two figures and the numbers, today's first."""
    prefix = f"titles.{front.title}."
    columns = (
        Column("design", "design", "words"),
        *(Column(wish.name, label(wish.name) + (", %" if is_share(wish.name) else "")) for wish in front.wishes),
        *(Column(key, key.removeprefix(prefix).replace(".", ".\n", 1)) for key in front.keys),
    )  # fmt: skip
    rows = [_row(front, "today", front.today, front.before)]
    rows += [_row(front, str(number), item.figures, item.values) for number, item in enumerate(front.designs, 1)]
    return Table("front", columns, rows)


def _row(
    front: DesignFront, name: str, told: tuple[float, float], values: Sequence[float]
) -> list[Cell]:  # fmt: skip
    shown = [Said(value, _figure(wish.name, value).removesuffix(" %"))
             for wish, value in zip(front.wishes, told, strict=True)]  # fmt: skip
    return [name, *shown, *(Said(value, f"{value:.4g}") for value in values)]
