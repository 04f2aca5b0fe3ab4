"""A scatter of the take over another measure, a point a setting, labelled where labels have room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from venue.report.columns import short
from venue.report.drawing import COLOURS, GREY, INK, keep_apart, plain_text, settled
from venue.report.page.figures import percent
from venue.report.page.picture import only_at
from venue.report.page.reading import TAKE, SettingView, Study
from venue.report.page.strokes import SMALL, blank, percents

# Points of a typesetter.
_LABEL_ROOM = 24.0
# So few points are all named, however close they lie.
_FEW = 6


def scatter(
    study: Study, known: Sequence[SettingView], measure: str, across: str, floor: float | None = None
) -> Figure:
    """The take over another measure, both with what is known of their difference from the recommended setting."""
    figure, axes = blank(across, "credits per open hour", (SMALL[0], 3.4))
    points = [(item.measures[measure].mean, item.measures[TAKE].mean) for item in known]
    if len(study.keys) == 1:
        axes.plot(*zip(*points, strict=True), color=GREY, lw=0.8, alpha=0.6, zorder=1)
    bars: list[tuple[float, float, float, float]] = []
    for item, (x, earned) in zip(known, points, strict=True):
        spans = [item.against.get(name) for name in (measure, TAKE)]
        halves = [0.0 if found is None or math.isnan(found.low) else found.half_width for found in spans]
        bars += [(x - halves[0], earned, x + halves[0], earned), (x, earned - halves[1], x, earned + halves[1])]
        best = item.place == study.best
        axes.errorbar(
            x, earned, xerr=halves[0], yerr=halves[1], fmt="none", ecolor=COLOURS[0], elinewidth=1, alpha=0.45, zorder=2
        )
        axes.plot(
            x, earned, ls="none", marker="D" if best else "o", ms=8 if best else 5, color=COLOURS[1 if best else 0],
            zorder=3,
        )  # fmt: skip
        if item in study.overlaid:
            (ring,) = axes.plot(x, earned, ls="none", marker="o", ms=14, mfc="none", mec=INK, mew=1.4, zorder=4)
            only_at(ring, item.place)
    axes.margins(0.12)
    percents(axes, study.unit(measure), "x")
    low, high = axes.get_xlim()
    if floor is not None and low - (high - low) / 2 < floor < high:
        axes.axvline(floor, color=GREY, lw=1, ls=(0, (4, 3)), zorder=0)
        axes.annotate(f"floor {percent(floor, 0)}", (floor, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                      textcoords="offset points", fontsize=9, color=GREY, va="bottom", ha="center")  # fmt: skip
    _label_points(figure, axes, study, list(zip(known, points, strict=True)), bars)
    return figure


def _label_points(
    figure: Figure,
    axes: Axes,
    study: Study,
    points: Sequence[tuple[SettingView, tuple[float, float]]],
    bars: Sequence[tuple[float, float, float, float]],
) -> None:
    with plain_text(figure):
        settled(figure)
    crowded = len(points) > _FEW and _crowded(figure, axes, points)
    named = [point for point in points if _foremost_of(study, point[0])] if crowded else points
    labels = [
        axes.annotate(
            short(item.label, 16),
            at,
            xytext=(0, 0),
            textcoords="offset points",
            fontsize=9,
            color=INK,
            fontweight="bold" if item.place == study.best else "normal",
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.7},
            zorder=4,
        )
        for item, at in sorted(named, key=lambda point: point[0].place != study.best)  # it has the first choice
    ]
    keep_apart(figure, axes, labels, bars)


def _crowded(figure: Figure, axes: Axes, points: Sequence[tuple[SettingView, tuple[float, float]]]) -> bool:
    """Whether two points lie closer than a label needs."""
    places = axes.transData.transform([at for _, at in points]) * 72 / figure.dpi
    return any(math.dist(one, other) < _LABEL_ROOM for one, other in combinations(places, 2))


def _foremost_of(study: Study, item: SettingView) -> bool:
    """Whether a setting is named among many: the recommended one, a fairer tie, off, as designed, and the ends."""
    foremost = {0, len(study.settings) - 1, study.best, study.fairer_tie.place if study.fairer_tie else None}
    return item.place in foremost or (len(study.keys) == 1 and dict(item.at).get("strength") in (0, 1))
