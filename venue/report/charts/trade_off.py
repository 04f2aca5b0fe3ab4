"""The take over another measure, a point a setting, both as paired differences from one setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from venue.report.charts.frame import Chart, Theme, blank, change_limits, only_at, over_line, percents, scaled
from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, keep_apart, plain_text, settled
from venue.report.page.reading import SettingView, Study
from venue.report.quantities import difference, percent, written
from venue.report.sentences.intervals import DIFFERENCE
from venue.study.intervals import Estimate
from venue.study.registry import FAIR, MEASURES, TAKE

# Points of a typesetter.
_LABEL_ROOM = 24.0
# So few points are all named, however close they lie.
_FEW = 6
_BARS = f"Bars: {DIFFERENCE}, on the same visitors. Diamond: recommended."

Point = tuple[SettingView, Estimate, Estimate]


def trade_off_chart(study: Study, theme: Theme) -> Chart | None:
    """Fairness across, take up, a labelled point a setting."""
    least = study.record.loaded.scenario.study.keep_better_side_wins
    return _scatter(study, theme, "trade-off", FAIR, "Up takes more, right is fairer.", least)


def hurt_chart(study: Study, theme: Theme) -> Chart | None:
    """Empty wallets across, take up."""
    words = "Up takes more, right leaves more wallets empty."
    return _scatter(study, theme, "take-and-wallets", "empty_wallets", words)


def _scatter(study: Study, theme: Theme, name: str, measure: str, reading: str, least: float = 0.0) -> Chart | None:
    base, what = study.reference.measures, MEASURES[measure].label
    known = [(item, study.change(item, measure), study.change(item, TAKE)) for item in study.settings]
    points = [
        (item, scaled(fair, 100.0), scaled(take, 100.0 / base[TAKE].mean))
        for item, fair, take in known if fair is not None and take is not None and base[TAKE].mean
    ]  # fmt: skip
    if len(points) < 2:
        return None
    against = "today" if study.reference is study.today else study.reference.label
    figure, axes = blank(
        theme, f"{what}, in a hundred, against {against}", f"take against {against}", height=1.15 * theme.height
    )
    bars = _draw(study, axes, points)
    change_limits(axes, "y", [end for bar in bars for end in (bar[1], bar[3])])
    change_limits(axes, "x", [end for bar in bars for end in (bar[0], bar[2])])
    percents(axes, scale=1.0, sign="+")
    percents(axes, "x", scale=1.0, sign="+", mark="")
    if least and measure in base:
        gap = 100.0 * (least - base[measure].mean)
        if axes.get_xlim()[0] < gap < axes.get_xlim()[1]:
            over_line(axes, gap, f"required: {percent(least, 0)}", dashes=(4, 3))
    _label_points(figure, axes, study, points, bars)
    return Chart(name, _title(study, points, what), figure, _alt(study, points, what), f"{reading} {_BARS}")


def _draw(study: Study, axes: Axes, points: Sequence[Point]) -> list[tuple[float, float, float, float]]:
    """Points with their bars; hands back where the bars are."""
    for line in (axes.axhline, axes.axvline):
        line(0.0, color=GREY, lw=0.8, zorder=0)
    if len(study.keys) == 1:
        axes.plot([fair.mean for _, fair, _ in points], [take.mean for _, _, take in points], color=GREY, lw=0.8,
                  alpha=0.6, zorder=1)  # fmt: skip
    bars: list[tuple[float, float, float, float]] = []
    for item, fair, take in points:
        x, y = fair.mean, take.mean
        across, up = (0.0 if math.isnan(found.low) else found.half_width for found in (fair, take))
        bars += [(x - across, y, x + across, y), (x, y - up, x, y + up)]
        best = item.place == study.best
        axes.errorbar(x, y, xerr=across, yerr=up, fmt="none", ecolor=COLOURS[0], elinewidth=1, alpha=0.45, zorder=2)
        axes.plot(x, y, ls="none", marker="D" if best else "o", ms=8 if best else 5,
                  color=COLOURS[1 if best else 0], zorder=3)  # fmt: skip
        if item in study.overlaid:
            (ring,) = axes.plot(x, y, ls="none", marker="o", ms=14, mfc="none", mec=INK, mew=1.4, zorder=4)
            only_at(ring, item.place)
    return bars


def _label_points(
    figure: Figure, axes: Axes, study: Study, points: Sequence[Point], bars: Sequence[tuple[float, float, float, float]]
) -> None:
    with plain_text(figure):
        settled(figure)
    crowded = len(points) > _FEW and _crowded(figure, axes, points)
    named = [point for point in points if _foremost(study, point[0])] if crowded else list(points)
    labels = [
        axes.annotate(
            short(item.label, 16), (fair.mean, take.mean), xytext=(0, 0), textcoords="offset points", fontsize=9,
            color=INK, fontweight="bold" if item.place == study.best else "normal", zorder=4,
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.7},
        )
        for item, fair, take in sorted(named, key=lambda point: point[0].place != study.best)  # it has the first choice
    ]  # fmt: skip
    keep_apart(figure, axes, labels, bars)


def _crowded(figure: Figure, axes: Axes, points: Sequence[Point]) -> bool:
    """Whether two points lie closer than a label needs."""
    places = axes.transData.transform([(fair.mean, take.mean) for _, fair, take in points]) * 72 / figure.dpi
    return any(math.dist(one, other) < _LABEL_ROOM for one, other in combinations(places, 2))


def _foremost(study: Study, item: SettingView) -> bool:
    """Whether a setting is named among many: the recommended one, a fairer tie, off, as designed, and the ends."""
    foremost = {0, len(study.settings) - 1, study.best, study.fairer_tie.place if study.fairer_tie else None}
    return item.place in foremost or (len(study.keys) == 1 and dict(item.at).get("strength") in (0, 1))


def _title(study: Study, points: Sequence[Point], what: str) -> str:
    """What the recommended setting, or the one that takes most, changes."""
    others = [point for point in points if point[0] is not study.reference]
    item, fair, take = max(others, key=lambda point: (point[0].place == study.best, point[2].mean))
    return (
        f"At {short(item.label, 16)}: {written(fair.mean, 1, '+')} {what} in 100, take {written(take.mean, 1, '+')} %"
    )


def _alt(study: Study, points: Sequence[Point], what: str) -> str:
    told = [
        f"{item.label}{' (recommended)' if item.place == study.best else ''}: {what} {difference(fair)} in a hundred, "
        f"take {difference(take)} %" for item, fair, take in points[:12]
    ]  # fmt: skip
    return f"Scatter, one point a {study.word}, differences from {study.reference.label}. {'; '.join(told)}."
