"""Results as tables for people: what was run, what came out, how sure it is, and the caution that goes with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.figures import column, decimals, interval, number, with_half
from venue.report.heading import LONGEST_NAME, heading
from venue.report.people_tables import people_tables
from venue.report.weeks import longer, weeks_in
from venue.scenario.load import Loaded
from venue.study.choose import fairer_tie
from venue.study.intervals import Estimate
from venue.study.point import Point, difference
from venue.study.precision import Reached
from venue.study.registry import MEASURES
from venue.study.results import RunResult, SweepResult, unit_of

CAUTION = (
    "Caution: the dial that earns can also hurt. The figures on empty wallets and the largest spenders stand for "
    "people, minors among them. Changing chances without telling players may be restricted, above all where prizes or "
    "stakes are involved; local law and licensed practice decide, not this model."
)

CELLS = "means ± half of the 95 % interval over replications"

_SWEEP_COLUMNS = {
    "credits_per_hour": "credits per\nopen hour",
    "return_28d": "return\nwithin 28 d",
    "better_side_wins": "better side\nwins",
    "skill_edge": "skill edge\nkept",
    "close_finishes": "close\nfinishes",
    "buy_in_rate": "buy-ins\ntaken",
    "profit_per_week": "profit\nper week",
    "availability": "machines\nnot in fault",
    "limit_reached": "limit\nreached",
    "empty_wallets": "empty\nwallets",
    "spend_p95": "spend p95\n(credits)",
    "spend_top_tenth": "take from\ntop tenth",
}


_MACHINE_COLUMNS = {
    "credits_per_hour": "credits per hour\nand machine",
    "credits_per_play": "credits\nper play",
    "utilisation": "in play\n(share)",
    "availability": "not in\nfault",
    "better_side_wins": "better side\nwins",
    "close_finishes": "close\nfinishes",
    "take_per_week": "take per\nmachine-week",
    "operator_share_per_week": "operator's\nshare",
    "profit_per_week": "profit per\nmachine-week",
}
# Columns that say nothing where there are no faults, no limits, no split and no upkeep.
_OF_MONEY = ("take_per_week", "operator_share_per_week", "profit_per_week")
_LIKELY = 0.2
_FEW = 5


def _says_something(name: str, found: Sequence[Mapping[str, Estimate]]) -> bool:
    """Whether a column is worth its room: it is told somewhere, and is not all that it is without faults and costs."""
    told = [measures for measures in found if name in measures]
    if name == "availability":
        return any(measures[name].mean < 1.0 for measures in told)
    if name == "limit_reached":
        return any(measures[name].mean > 0.0 for measures in told)
    if name in _OF_MONEY:
        return any(measures["profit_per_week"].mean != measures["take_per_week"].mean for measures in told)
    return bool(told)


def how(loaded: Loaded, replications: int) -> str:
    """Days, replications and seed in words."""
    study = loaded.scenario.study
    runs = "1 replication" if replications == 1 else f"{replications} replications"
    return f"{study.days} days, the first {study.warm_up} left out; {runs}; seed {study.seed}"


def caution(width: int) -> str:
    """The caution that goes with every figure about spending."""
    return paragraph(CAUTION, width)


def run_tables(result: RunResult, width: int = 100) -> str:
    """A run as text: the venue, its machines, what people did."""
    loaded, point = result.loaded, result.point
    money = loaded.scenario.venue.money
    rows = []
    for name, item in point.measures().items():
        mean, span = interval(item)
        rows.append([name, mean, span, unit_of(name, MEASURES[name], money), MEASURES[name].meaning])
    parts = [
        heading(loaded, f"catch-up strength {point.strength:g}; {how(loaded, len(point.replications))}", width),
        _measures_table(["measure", "mean", "95 % interval", "unit", "what it is"], rows, width),
    ]
    parts += _not_told([name for name in MEASURES if name not in point.measures()], width)
    parts += precision(result.reached, width)
    parts += _settling(loaded, point, width)
    parts.append(_machines_table(result, width))
    parts += people_tables(loaded, point, width)
    parts.append(caution(width))
    return "\n\n".join(parts)


def precision(reached: Sequence[Reached], width: int) -> list[str]:
    """What came of the precisions asked for, a sentence each; nothing if none was."""
    return [
        paragraph(
            f"Precision: {item.wanted.text} was asked for and {'' if item.met else 'NOT '}reached with "
            f"{item.replications} replications: ± {item.wanted.show(item.half_width)} at the slowest, {item.where}."
            + ("" if item.met else " Allow more with --at-most."),
            width,
        )
        for item in reached
    ]


def _settling(loaded: Loaded, point: Point, width: int) -> list[str]:
    """A warning where the take has not settled within the run, or may not have; nothing where it has."""
    study = loaded.scenario.study
    found = weeks_in(point.weeks(), study.days)
    if found is None or found.steady or not found.told:
        return []
    first, last = found.counted[0], found.counted[-1]
    what = "is still moving" if found.moving else "may still be moving, which these replications cannot tell,"
    more = " ".join(longer(study.days, study.warm_up, study.days))
    return [
        paragraph(
            f"The take {what} from week to week: {number(first.mean, 1)} credits per open hour in the first week "
            f"counted, {number(last.mean, 1)} in the last. An interval knows nothing of that; to see what a settled "
            f"venue takes, run more days and leave more of them out: {more}.",
            width,
        )
    ]


def _not_told(missing: Sequence[str], width: int) -> list[str]:
    if not missing:
        return []
    return [
        paragraph(f"Not told: {', '.join(missing)} (the run is too short, or there was nothing of the kind).", width)
    ]


def _machines_table(result: RunResult, width: int) -> str:
    machines = result.loaded.scenario.machines
    found = {key: result.point.machine_measures(key) for key in machines}
    told = {name: head for name, head in _MACHINE_COLUMNS.items() if _says_something(name, list(found.values()))}
    columns = [column([found[key].get(name) for key in machines]) for name in told]
    rows = [
        [short(key, LONGEST_NAME), short(machine.title or "(no contest)", LONGEST_NAME), str(machine.count), *cells]
        for (key, machine), *cells in zip(machines.items(), *columns, strict=True)
    ]
    head = ["machines", "title", "how\nmany", *told.values()]
    return in_columns(head, rows, width=width, flush_left=2, caption=f"Machines: {CELLS}")


def _measures_table(head: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    """The table of measures; explanations go first where the line is too short for them, then units."""
    for count in (len(head), len(head) - 1, len(head) - 2):
        widths = [max(room(row[index]) for row in [head, *rows]) for index in range(count)]
        if sum(widths) + 2 * (count - 1) <= width:
            break
    # The last two columns are words.
    lines = [
        [*row[:3], *(left(cell, widths[3 + index]) for index, cell in enumerate(row[3:count]))] for row in [head, *rows]
    ]
    caption = "The venue: means over replications with 95 % intervals"
    return in_columns(lines[0], lines[1:], width=sum(widths) + 2 * count, caption=caption)


def sweep_tables(result: SweepResult, width: int = 100) -> str:
    """A sweep as text: a line a strength, and the recommendation."""
    found = [point.measures() for point in result.points]
    told = {name: head for name, head in _SWEEP_COLUMNS.items() if _says_something(name, found)}
    columns = [column([measures.get(name) for measures in found]) for name in told]
    heads = list(told.values())
    against = _against_best(result)
    if against:  # what a choice is made on: the same visitors, so surer than either figure
        columns.insert(1, against)
        heads.insert(1, "against the\nrecommended")
    rows = [
        [point.label + (" <" if point is result.best_point else ""), *cells]
        for point, *cells in zip(result.points, *columns, strict=True)
    ]
    settings = len(result.points)
    what = " and ".join("catch-up strength" if key == "strength" else key for key in result.keys)
    title = f"{what} swept over {settings} setting{'s' if settings != 1 else ''}"
    replications = result.loaded.scenario.study.replications
    parts = [
        heading(result.loaded, f"{title}; {how(result.loaded, replications)}", width),
        in_columns([",\n".join(result.keys), *heads], rows, width=width, caption=f"Settings (<: recommended): {CELLS}"),
        paragraph(_reading(replications, _word(result)), width),
        *_not_told([name for name in _SWEEP_COLUMNS if not any(name in measures for measures in found)], width),
        *precision(result.reached, width),
        recommendation(result, width),
        *_trade_off(result, width),
        caution(width),
    ]
    return "\n\n".join(parts)


def _against_best(result: SweepResult) -> list[str]:
    """Paired differences in credits per open hour from the recommended strength; empty where there is none."""
    best = result.best_point
    if best is None or len(result.points) == 1:
        return []
    return column([None if point is best else difference(point, best, "credits_per_hour") for point in result.points])


def _word(result: SweepResult) -> str:
    return "strength" if result.keys == ("strength",) else "setting"


def _reading(replications: int, word: str) -> str:
    """How to read the cells."""
    if replications == 1:
        return f"One replication: means without intervals; every {word} met the same visitors."
    few = " Few replications: intervals are wide and may reach beyond what can be." if replications < _FEW else ""
    return (
        f"Mean ± half of the 95 % interval over replications; every {word} met the same visitors, and differences "
        f"from the recommended are taken in pairs.{few}"
    )


def recommendation(result: SweepResult, width: int = 100) -> str:
    """The recommendation in a sentence."""
    best = result.best_point
    if best is None:
        return paragraph(f"Recommended: none; {result.best.why}.", width)
    parts = [paragraph(f"Recommended: {best.name} (<): {result.best.why}.", width)]
    if result.best.rivals:
        rivals = "; ".join(result.points[place].label for place in result.best.rivals)
        held = "by 95 % intervals that hold for all together (wider than those of the table)"
        text = f"Not told apart from it in credits per open hour, {held}: {rivals}."
        parts += [paragraph(text, width), *_fairer_tie(result, width)]
    selection = result.selection
    if selection is not None and not selection.finished:
        asked = selection.assurance
        parts.append(
            paragraph(
                f"Not yet sure: after {max(selection.replications)} replications more than one setting is left of "
                f"those that may be best with a chance of {asked.sure:g}; allow more with --at-most.",
                width,
            )
        )
    parts += _settling(result.loaded, best, width)
    return "\n\n".join(parts)


def _fairer_tie(result: SweepResult, width: int) -> list[str]:
    """A sentence on a setting that is no worse in take as far as is known, and surely fairer; nothing if none is."""
    best = result.best_point
    if best is None:
        return []
    against = {
        place: (difference(result.points[place], best, "credits_per_hour"),
                difference(result.points[place], best, "better_side_wins"))
        for place in result.best.rivals
    }  # fmt: skip
    place = fairer_tie(against)
    take, fair = (None, None) if place is None else against[place]
    if place is None or take is None or fair is None:
        return []
    more = Estimate(100 * fair.mean, 100 * fair.low, 100 * fair.high, fair.replications)
    text = (
        f"Or, if fairness is to decide between ties: {result.points[place].label}. The better side wins "
        f"{with_half(more)} more contests in a hundred there, and the take is as good as far as these runs can tell "
        f"({with_half(take, '+')} credits per open hour)."
    )
    return [paragraph(text, width)]


def _trade_off(result: SweepResult, width: int) -> list[str]:
    """The settings that no other beats in both take and fairness, and what fairness costs along them."""
    shown = [item for item in result.front if item.on_front or (item.chance or 0.0) >= _LIKELY]
    if len(result.points) < 2 or not shown:
        return []
    rows = []
    for item in shown:
        price = "-"
        if item.price is not None:
            middle, low, high = item.price
            places = decimals((high - low) / 2, middle)
            price = f"{number(middle, places)} ({number(low, places)} to {number(high, places)})"
        chance = "-" if item.chance is None else f"{item.chance:.2f}"
        rows.append([result.points[item.place].label + ("" if item.on_front else " ~"), number(item.fair, 4),
                     number(item.earned, 2), chance, price])  # fmt: skip
    head = [",\n".join(result.keys), "better side\nwins", "credits per\nopen hour", "chance of being\non the front",
            "credits per hour for one more\npoint of fairness (95 % interval)"]  # fmt: skip
    text = (
        "The trade-off: settings that no other beats in both fairness and take, the fairest first (~: perhaps one of "
        "them). A point of fairness is one more contest in a hundred won by the better side; its price leads to the "
        "next fairer setting of the front."
    )
    return [paragraph(text, width), in_columns(head, rows, width=width, caption="The trade-off, the fairest first")]
