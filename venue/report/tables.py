"""Results as tables for people: what was run, what came out, how sure it is, and the caution that goes with it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from venue.report.columns import in_columns
from venue.report.figures import interval, with_spread
from venue.scenario.load import Loaded
from venue.study.measures import MEASURES
from venue.study.results import RunResult, SweepResult, unit_of
from venue.study.title import TitleResult

PROTECTION = ("empty_wallets", "spend_p95", "spend_top_tenth")
CAUTION = (
    "Caution: the dial that earns can also hurt. The figures on empty wallets and the largest spenders stand for "
    "people, minors among them. Changing chances without telling players may be restricted, above all where prizes or "
    "stakes are involved; local law and licensed practice decide, not this model."
)

_SWEEP_COLUMNS = {
    "credits_per_hour": "credits per\nopen hour",
    "return_28d": "return\nwithin 28 d",
    "better_side_wins": "better side\nwins",
    "skill_edge": "skill edge\nkept",
    "close_finishes": "close\nfinishes",
    "buy_in_rate": "buy-ins\ntaken",
    "empty_wallets": "empty\nwallets",
    "spend_p95": "spend p95\n(credits)",
    "spend_top_tenth": "take from\ntop tenth",
}


def _heading(loaded: Loaded, rest: str, width: int) -> str:
    return textwrap.fill(f"{loaded.scenario.venue.name}: {rest}", width)


def _how(loaded: Loaded, replications: int) -> str:
    study = loaded.scenario.study
    runs = "1 replication" if replications == 1 else f"{replications} replications"
    return f"{study.days} days, the first {study.warm_up} left out; {runs}; seed {study.seed}"


def _switches(loaded: Loaded) -> str:
    off = loaded.scenario.study.switches_off
    return f"; switched off: {', '.join(off)}" if off else ""


def caution(width: int) -> str:
    """The caution that goes with every figure about spending."""
    return textwrap.fill(CAUTION, width)


def run_tables(result: RunResult, width: int = 100) -> str:
    """A run as text: the venue, its machines, why people left."""
    loaded, point = result.loaded, result.point
    money = loaded.scenario.venue.money
    rows = []
    for name, item in point.measures().items():
        mean, span = interval(item)
        rows.append([name, mean, span, unit_of(name, MEASURES[name], money), MEASURES[name].meaning])
    head = ["measure", "mean", "95 % interval", "unit", "what it is"]
    parts = [
        _heading(loaded, f"catch-up strength {point.strength:g}; {_how(loaded, len(point.replications))}", width)
        + _switches(loaded),
        _left_table(head, rows, width),
    ]
    missing = [name for name in MEASURES if name not in point.measures()]
    if missing:
        parts.append(
            textwrap.fill(f"Not told by this run: {', '.join(missing)} (too short, or nothing of the kind).", width)
        )
    machine_rows = []
    for key, machine in loaded.scenario.machines.items():
        found = point.machine_measures(key)
        machine_rows.append(
            [key, machine.title or "(no contest)", str(machine.count)]
            + [
                with_spread(found.get(name))
                for name in (
                    "credits_per_hour",
                    "credits_per_play",
                    "utilisation",
                    "better_side_wins",
                    "close_finishes",
                )
            ]
        )
    parts.append(
        in_columns(
            ["machines", "title", "how\nmany", "credits per hour\nand machine", "credits\nper play", "in play\n(share)",
             "better side\nwins", "close\nfinishes"],
            machine_rows,
            width=width,
            left=2,
        )
    )  # fmt: skip
    parts.append(
        in_columns(
            ["left because", "share of visits"],
            [[reason, f"{share:.1%}"] for reason, share in point.left_because().items()],
            width=width,
        )
    )
    parts.append(caution(width))
    return "\n\n".join(parts)


def _left_table(head: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    """The table of measures; explanations and units go first where the line is too short for them."""
    for count in (len(head), len(head) - 1):
        text = in_columns(head[:count], [row[:count] for row in rows], width=10_000)
        if max(len(line) for line in text.splitlines()) <= width:
            break
    flush = [[*row[:3], *row[3:count]] for row in rows]
    widths = [max(len(row[index]) for row in [list(head), *flush]) for index in range(count)]
    padded = [[*row[:3], *(cell.ljust(widths[3 + i]) for i, cell in enumerate(row[3:]))] for row in flush]
    heads = [*head[:3], *(title.ljust(widths[3 + i]) for i, title in enumerate(head[3:count]))]
    return in_columns(heads, padded, width=max(width, sum(widths) + 2 * count))


def sweep_tables(result: SweepResult, width: int = 100) -> str:
    """A sweep as text: a line a strength, and the recommendation."""
    rows = []
    for point in result.points:
        found = point.measures()
        mark = " <" if point.strength == result.best.strength else ""
        rows.append([f"{point.strength:g}{mark}"] + [with_spread(found.get(name)) for name in _SWEEP_COLUMNS])
    strengths = len(result.points)
    title = f"catch-up strength swept over {strengths} setting{'s' if strengths != 1 else ''}"
    replications = result.loaded.scenario.study.replications
    parts = [
        _heading(result.loaded, f"{title}; {_how(result.loaded, replications)}", width) + _switches(result.loaded),
        in_columns(["strength", *_SWEEP_COLUMNS.values()], rows, width=width),
        "Mean ± half of the 95 % interval over replications; every strength met the same visitors.",
        recommendation(result, width),
        caution(width),
    ]
    return "\n\n".join(parts)


def recommendation(result: SweepResult, width: int = 100) -> str:
    """The recommendation in a sentence."""
    best = result.best
    if best.strength is None:
        return textwrap.fill(f"Recommended: none; {best.why}.", width)
    return textwrap.fill(f"Recommended: strength {best.strength:g} (<): {best.why}.", width)


def title_tables(result: TitleResult, width: int = 100) -> str:
    """Exact results of a title as text."""
    match = result.match_ups
    title = result.loaded.scenario.titles[result.title]
    if match.sd == 0.0:
        who = f"one pair of skills, side A ahead by {match.mean:g} log-odds, against the {match.side_b}"
    else:
        who = (
            f"averaged over newcomers' skills (gap of mean {match.mean:g}, sd {match.sd:.3g} log-odds), "
            f"against {'each other' if match.side_b == 'visitor' else 'the computer'}"
        )
    name = title.label or result.title
    rows = [
        [
            f"{item.strength:g}", f"{item.better_side_wins:.4f}",
            "-" if math.isnan(item.skill_edge) else f"{item.skill_edge:.3f}",
            f"{item.close_finishes:.4f}", f"{item.level:.4f}", f"{item.side_a_wins:.4f}", f"{item.margin_mean:.2f}",
            f"{item.margin_sd:.2f}", f"{item.assisted:.2f}",
        ]
        for item in result.headlines
    ]  # fmt: skip
    parts = [
        _heading(result.loaded, f"{name}, exact, {who}{_switches(result.loaded)}", width),
        in_columns(
            ["strength", "better side\nwins", "skill edge\nkept", f"close\n(≤ {title.close} points)", "level at\nend",
             "side A\nwins", "margin mean\n(points)", "margin sd\n(points)", "assisted scores\na contest"],
            rows,
            width=width,
        ),
    ]  # fmt: skip
    if title.rules:
        strengths = [f"{item.strength:g}" for item in result.headlines]
        owed = [
            [rule, title.rules[rule].kind, *(f"{sum(item.owed[rule]):+.2f}" for item in result.headlines)]
            for rule in title.rules
        ]
        parts.append(
            "Points a contest owed to each rule, both sides together, by strength:\n\n"
            + in_columns(["rule", "kind", *strengths], owed, width=width, left=2)
        )
    unaided = f"Equal sides without any rule end {result.spread:.2f} points apart (standard deviation)."
    parts.append(textwrap.fill(unaided, width))
    return "\n\n".join(parts)
