"""What charts share: size, axes, lines with their bands, marks that belong to one setting.

A chart has a title of one line, axes on steps of 1, 2 or 5, and no axis that makes a small change look large: axes of
changes span at least a tenth of the reference, all others begin at zero.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation
from matplotlib.ticker import FuncFormatter, MaxNLocator

from venue.report.columns import short
from venue.report.drawing import COLOURS, DASHES, GREY, INK, MARKERS, label_ends, new_figure, titled
from venue.study.intervals import Estimate
from venue.study.point import Value

# Steps between ticks: 1, 2 or 5 times a power of ten.
STEPS = (1, 2, 5, 10)
LABEL = 24
# An axis of changes spans at least so much either way, in percent of the reference or in points of a hundred.
LEAST_SPAN = 5.0
_BAND = 0.18
_QUANTITY = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+))\s*([a-zA-Z%]+)")
# As faint as the style sheet of the page has it.
_FAINT = 0.13


@dataclass(frozen=True)
class Theme:
    """How large a chart is drawn, in inches, and how many ticks an axis has room for."""

    width: float
    height: float
    ticks: int


# Small, so that letters stay readable where a phone shows it whole.
PAGE = Theme(4.2, 2.9, 5)
FOLDER = Theme(7.2, 4.2, 8)


@dataclass(frozen=True)
class Chart:
    """A chart with what is said about it.

    Attributes
    ----------
    name
        Its file name without ending, and its identity on the page.
    finding
        Its title, in one line: what it shows, not what it is of.
    figure
        The drawing, without a title.
    alt
        What it shows in words, for those who cannot see it.
    note
        How to read it.
    wide
        Whether it needs the width of the page.
    """

    name: str
    finding: str
    figure: Figure
    alt: str
    note: str = ""
    wide: bool = False

    def alone(self, place: int, foot: str = "") -> Figure:
        """The drawing as a file of its own: with its title and a note under it, and one setting in full."""
        still(self.figure, place)
        titled(self.figure, self.finding, " ".join(part for part in (foot, self.note) if part))
        return self.figure


def blank(
    theme: Theme, x: str, y: str, *, height: float | None = None, width: float | None = None
) -> tuple[Figure, Axes]:
    """An empty chart with its axes named and ticks on steps of 1, 2 or 5."""
    figure, axes = new_figure("", x, y, size=(width or theme.width, height or theme.height))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MaxNLocator(theme.ticks, steps=STEPS))
        axis.set_major_formatter(FuncFormatter(lambda value, _: plain_number(value)))
    return figure, axes


def numbers_of(values: Sequence[Value]) -> tuple[list[float], str] | None:
    """Values as numbers and the unit they are written in; None if they are words, or of several units."""
    found, units = [], set()
    for value in values:
        match = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
        if isinstance(value, str) and match is None:
            return None
        found.append(float(match[1]) if match else float(value))
        units.add(match[2] if match else "")
    return (found, units.pop()) if len(units) == 1 else None


def capital(text: str) -> str:
    """A text that begins with a capital."""
    return text[:1].upper() + text[1:]


def plain_number(value: float) -> str:
    """A tick in words: no needless digits, a minus sign that is one."""
    return f"{round(value, 9) + 0.0:.10g}".replace("-", "−")


def percents(axes: Axes, axis: str = "y", *, scale: float = 100.0, sign: str = "", mark: str = " %") -> None:
    """Shares as percentages on an axis."""

    def written(value: float, _: int) -> str:
        shown = round(scale * value, 9) + 0.0
        return f"{shown:{sign if shown else ''}.4g}{mark}".replace("-", "−")

    getattr(axes, f"{axis}axis").set_major_formatter(FuncFormatter(written))


def change_limits(axes: Axes, axis: str, values: Sequence[float], *, room: float = 0.1) -> None:
    """Limits of an axis of changes around zero: wide enough that a small change looks small."""
    known = [value for value in values if not math.isnan(value)] or [0.0]
    low, high = min(-LEAST_SPAN, *known), max(LEAST_SPAN, *known)
    getattr(axes, f"set_{axis}lim")(low - room * (high - low), high + room * (high - low))


def from_zero(axes: Axes, values: Sequence[float]) -> None:
    """The axis upward from zero to over the greatest value."""
    known = [value for value in values if not math.isnan(value)]
    axes.set_ylim(0, 1.08 * max([*known, 1e-9]))


def names_under(axes: Axes, places: Sequence[float], names: Sequence[str], room: int = 12) -> None:
    """Words under an axis, each on up to three lines, turned where many stand side by side."""
    many = len(names) > 5
    texts = [short(name, 18) if many else "\n".join(textwrap.wrap(short(name, 3 * room), room)[:3]) for name in names]
    axes.set_xticks(places, texts, rotation=40 if many else 0, ha="right" if many else "center")


def band(axes: Axes, known: Sequence[tuple[float, Estimate]], index: int, *, marks: bool = True) -> None:
    """A line through points with the band of their intervals."""
    places, index = [place for place, _ in known], index % len(COLOURS)
    marker = MARKERS[index] if marks else None
    axes.plot(places, [item.mean for _, item in known], color=COLOURS[index], ls=DASHES[index], marker=marker, ms=4)
    ends = [(item.mean, item.mean) if math.isnan(item.low) else (item.low, item.high) for _, item in known]
    low, high = [end for end, _ in ends], [end for _, end in ends]
    axes.fill_between(places, low, high, color=COLOURS[index], alpha=_BAND, lw=0)


def ends_of(items: Sequence[Estimate]) -> list[float]:
    """Means and the ends of intervals, those that are known."""
    return [value for item in items for value in (item.mean, item.low, item.high) if not math.isnan(value)]


def scaled(item: Estimate, scale: float) -> Estimate:
    """An estimate in another unit."""
    return Estimate(scale * item.mean, scale * item.low, scale * item.high, item.replications)


def over_line(axes: Axes, x: float, text: str, *, dashes: tuple[int, int] = (2, 2), side: str = "center") -> None:
    """An upright line with a word over it."""
    axes.axvline(x, color=GREY, lw=1, ls=(0, dashes), zorder=0)
    axes.annotate(text, (x, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3), textcoords="offset points",
                  fontsize=9, color=GREY, va="bottom", ha=side)  # fmt: skip


def at_end(axes: Axes, y: float, text: str, *, dashes: tuple[int, int] = (4, 3)) -> None:
    """A level line with a word at its left end, inside."""
    axes.axhline(y, color=GREY, lw=1, ls=(0, dashes), zorder=0)
    axes.annotate(text, (0.0, y), xycoords=("axes fraction", "data"), xytext=(4, 3), textcoords="offset points",
                  fontsize=9, color=GREY, va="bottom", ha="left")  # fmt: skip


def value_mark(axes: Axes, text: str, at: tuple[float, float], place: int, *, left: bool) -> None:
    """A figure next to its mark, shown while its setting is chosen."""
    label = axes.annotate(
        text, at, xytext=(-8 if left else 8, 9), textcoords="offset points", fontsize=9, color=INK,
        ha="right" if left else "left", va="bottom", fontweight="bold", zorder=5,
        bbox={"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85},
    )  # fmt: skip
    label.set_in_layout(False)
    only_at(label, place)


def only_at(artist: Artist, place: int) -> None:
    """Show an artist only while one setting is chosen."""
    _belongs(artist, f"only-{place}")


def ghost_at(artist: Artist, place: int) -> None:
    """Show an artist in full while one setting is chosen, faintly otherwise."""
    _belongs(artist, f"ghost-{place}")


def _belongs(artist: Artist, mark: str) -> None:
    artist.set_gid(mark)
    if isinstance(artist, Annotation) and artist.arrow_patch is not None:
        artist.arrow_patch.set_gid(mark)  # drawn after its text, not within


@contextmanager
def belonging(axes: Axes, place: int, mark: Callable[[Artist, int], None] = ghost_at) -> Iterator[None]:
    """Whatever is drawn within belongs to one setting."""
    before = set(axes.get_children())
    yield
    for artist in axes.get_children():
        if artist not in before:
            mark(artist, place)


def end_labels(axes: Axes, ends: Mapping[int, tuple[list[tuple[str, float]], float]]) -> None:
    """Names at the ends of each setting's lines, shown with it."""
    for place, (names, last) in ends.items():
        with belonging(axes, place, only_at):
            label_ends(axes, names, last)


def legend_over(
    axes: Axes, handles: Sequence[Artist], names: Sequence[str], *, columns: int = 1, right: bool = False
) -> None:
    """A legend over the frame, on lines of its own, however narrow the frame is."""
    lines = -(-len(names) // columns)
    axes.set_title("\n" * (lines - 1) + " ", fontsize=11)  # room for it
    legend = axes.legend(handles, names, frameon=False, fontsize=9, loc="lower right" if right else "lower left",
                         bbox_to_anchor=(1.0 if right else 0.0, 1.0),
                         ncols=columns, borderaxespad=0.2, labelspacing=0.25)  # fmt: skip
    legend.set_in_layout(False)


def still(figure: Figure, chosen: int) -> None:
    """Show a chart as the page opens with it, for a file that has no slider: one setting, the others faintly."""
    for artist in figure.findobj():
        mark, _, place = (artist.get_gid() or "").partition("-")
        if place and int(place) != chosen:
            if mark == "only":
                artist.set_visible(False)
            elif mark == "ghost":
                own = artist.get_alpha()
                artist.set_alpha(_FAINT if own is None else _FAINT * own)
