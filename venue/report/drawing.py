"""How charts are drawn: one style, the finding as title, names as they are, labels clear of one another."""

from __future__ import annotations

import io
import math
import multiprocessing
import os
import textwrap
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text
from matplotlib.transforms import Bbox

# Okabe & Ito 2008, "Color universal design": told apart with every common kind of colour vision. Line style and marker
# say the same again, for print in grey.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = ("-", (0, (5, 2)), (0, (1, 1.3)), (0, (5, 1.5, 1, 1.5)), (0, (8, 3)), (0, (3, 1, 1, 1, 1, 1)), "-")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
INK, GREY = "#222222", "#595959"
_SIZE = (7.2, 4.5)
_TITLE_WIDTH, _NOTE_WIDTH = 68, 118

_STYLE: Any = {
    "font.size": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": GREY,
    "axes.labelcolor": INK,
    "axes.grid": True,
    "grid.color": "#e4e4e4",
    "grid.linewidth": 0.8,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.formatter.useoffset": False,
}
# The same chart gives the same file.
_SAVING: Any = {"svg.fonttype": "path", "svg.hashsalt": "venue"}
_INLINE: Any = _SAVING | {"svg.fonttype": "none"}
_DPI = 150
# Where axes stand about when they are measured (left, bottom, width, height), and points left free around them.
_ROUGHLY, _EDGE = (0.15, 0.16, 0.7, 0.72), 3.0
# Packing tighter takes longer than drawing.
_PNG = {"compress_level": 1}


def inline(figure: Figure) -> str:
    """A chart as SVG whose words stay words, for a page that sets them in its own letters and colours."""
    text, engine = io.StringIO(), figure.get_layout_engine()
    with _set(_INLINE), plain_text(figure):
        settle(figure)
        figure.savefig(text, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    figure.set_layout_engine(engine)  # a title may still come over it
    return text.getvalue()


def settle(figure: Figure) -> None:
    """Lay a chart out as it stands, for good: matplotlib would draw it once more to do it."""
    settled(figure)
    figure.set_layout_engine(None)


def settled(figure: Figure) -> None:
    """Lay a chart out as it stands so far, without drawing it."""
    engine = figure.get_layout_engine()
    if engine is None:
        return
    if len(figure.axes) == 1 and not (figure.legends or figure.get_suptitle() or figure.get_supxlabel()):
        _fit(figure, figure.axes[0])
    else:
        engine.execute(figure)


def _fit(figure: Figure, axes: Axes) -> None:
    """Set the only axes of a chart so that they and what stands around them fill it: the layout engine does it too,
    but measures everything twice."""
    axes.set_position(_ROUGHLY)
    around = axes.get_tightbbox(for_layout_only=True)
    if around is None:
        return
    inner, (width, height) = axes.get_window_extent(), figure.get_size_inches() * figure.dpi
    edge = _EDGE * figure.dpi / 72
    left, bottom = inner.x0 - around.x0 + edge, inner.y0 - around.y0 + edge
    right, top = around.x1 - inner.x1 + edge, around.y1 - inner.y1 + edge
    wide, tall = max(width - left - right, width / 4), max(height - bottom - top, height / 4)
    axes.set_position((left / width, bottom / height, wide / width, tall / height))
    axes.set_in_layout(True)  # the engine's again, where a title comes over it


def titled(figure: Figure, title: str, note: str) -> None:
    """Set a title over a chart and a note under it, broken to its width; the chart grows to hold them."""
    width, height = figure.get_size_inches()
    share = width / _SIZE[0]
    head = textwrap.fill(title, max(20, int(_TITLE_WIDTH * share)))
    foot = textwrap.fill(note, max(30, int(_NOTE_WIDTH * share)))
    figure.suptitle(head, x=0.01, ha="left", fontsize=12, color=INK)
    if foot:
        figure.supxlabel(foot, fontsize=8, color=GREY, x=0.01, ha="left")
    figure.set_size_inches(width, height + 0.22 * (head.count("\n") + 1) + 0.16 * (foot.count("\n") + 1))


def save_as(figure: Figure, path: Path, kind: str) -> None:
    """Write a chart as `png`, `svg` or `pdf`; `path` has no ending."""
    dates = {"pdf": {"CreationDate": None}, "svg": {"Date": None}}
    with matplotlib.rc_context(_SAVING), plain_text(figure):
        figure.savefig(path.with_name(f"{path.name}.{kind}"), dpi=_DPI, metadata=dates.get(kind))


def save(figure: Figure, path: Path) -> None:
    """Write a chart as PNG and SVG; `path` has no ending."""
    with matplotlib.rc_context(_SAVING), plain_text(figure):
        settle(figure)
        figure.savefig(path.with_name(f"{path.name}.png"), dpi=_DPI, pil_kwargs=_PNG)
        figure.savefig(path.with_name(f"{path.name}.svg"), metadata={"Date": None})


class Drawing:
    """Charts being written to a folder while other things are: half of them by a process of their own.

    Parameters
    ----------
    figures
        Charts by file name.
    """

    def __init__(self, figures: Mapping[str, Figure], folder: Path) -> None:
        names = list(figures)
        self._mine = {name: figures[name] for name in names[1::2]}
        self._others = {name: figures[name] for name in names[::2]}
        self._folder = folder
        self._process: multiprocessing.process.BaseProcess | None = None

    def __enter__(self) -> None:
        if self._mine and "fork" in multiprocessing.get_all_start_methods() and (os.cpu_count() or 1) > 1:
            # A copy of this process draws what this process has: nothing is loaded or sent a second time.
            context = multiprocessing.get_context("fork")
            self._process = context.Process(target=_save_quietly, args=(self._others, self._folder), daemon=True)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DeprecationWarning)  # threads of linear algebra, which lie idle
                self._process.start()

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:
            _save_all(self._mine, self._folder)
        if self._process is not None:
            if kind is not None:
                self._process.terminate()
            self._process.join()
        if kind is None and (self._process is None or self._process.exitcode != 0):
            _save_all(self._others, self._folder)  # and fail here, if at all


def _save_all(figures: Mapping[str, Figure], folder: Path) -> None:
    for name, figure in figures.items():
        save(figure, folder / name)


def _save_quietly(figures: Mapping[str, Figure], folder: Path) -> None:
    try:
        _save_all(figures, folder)
    except Exception:  # the waiting process sees the exit code, and draws them itself
        os._exit(1)


@contextmanager
def for_page() -> Iterator[None]:
    """Make and draw many charts for a page: what is the same for all of them is set once."""
    with _set(_STYLE | _INLINE | {"text.parse_math": False}):
        yield


def _set(settings: Any) -> AbstractContextManager[None]:
    """Settings of the drawing library for a while; nothing to do where they hold already."""
    known: Any = matplotlib.rcParams
    return nullcontext() if all(known[key] == value for key, value in settings.items()) else rc_context(settings)


@contextmanager
def plain_text(figure: Figure) -> Iterator[None]:
    """Draw names as they are: a dollar sign begins no formula, a letter that the font lacks is no warning."""
    for text in figure.findobj(Text) if matplotlib.rcParams["text.parse_math"] else ():
        if isinstance(text, Text):
            text.set_parse_math(False)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def new_figure(
    title: str, x: str, y: str, note: str = "", *, size: tuple[float, float] = _SIZE
) -> tuple[Figure, Axes]:  # fmt: skip
    """An empty chart with its title, its axes named, and a note under it; `size` is in inches."""
    with _set(_STYLE):
        figure = Figure(figsize=size, layout="constrained")
        axes = figure.add_subplot()
    if title:
        axes.set_title(textwrap.fill(title, _TITLE_WIDTH), loc="left", fontsize=12, color=INK, pad=10)
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    if note:
        figure.supxlabel(textwrap.fill(note, _NOTE_WIDTH), fontsize=8, color=GREY, x=0.01, ha="left")
    return figure, axes


def new_panels(title: str, x: Sequence[str], note: str = "") -> tuple[Figure, list[Axes]]:
    """An empty chart of panels side by side, each with its own axis name."""
    with matplotlib.rc_context(_STYLE):
        figure = Figure(figsize=_SIZE, layout="constrained")
        panels = [figure.add_subplot(1, len(x), place + 1) for place in range(len(x))]
    figure.suptitle(textwrap.fill(title, _TITLE_WIDTH + 8), x=0.01, ha="left", fontsize=12, color=INK)
    for axes, name in zip(panels, x, strict=True):
        axes.set_xlabel(name)
    if note:
        figure.supxlabel(textwrap.fill(note, _NOTE_WIDTH), fontsize=8, color=GREY, x=0.01, ha="left")
    return figure, panels


# A leader that ends where its points are: cutting its ends off takes longer than all else about it.
_LABEL_HEIGHT, _AXES_SHARE = 11.5, 0.74
_PLAIN_LINE: Any = {"patchA": None, "shrinkA": 0, "shrinkB": 0}


def label_ends(
    axes: Axes, ends: Sequence[tuple[str, float]], x: float | Sequence[float], colours: Sequence[str] = COLOURS
) -> None:  # fmt: skip
    """Labels at the right ends of lines, moved apart where they would overlap; `x` is where the lines end."""
    stops = [x] * len(ends) if isinstance(x, float | int) else list(x)
    low, high = axes.get_ylim()
    # Two lines of their letters, as a share of the height that axes have in a chart.
    figure = axes.get_figure(root=True)
    height = _SIZE[1] if figure is None else float(figure.get_size_inches()[1])
    least = max(0.055, _LABEL_HEIGHT / (72 * _AXES_SHARE * height)) * (high - low)
    ordered = sorted(range(len(ends)), key=lambda index: ends[index][1])
    places = {index: ends[index][1] for index in ordered}
    for below, index in zip(ordered, ordered[1:], strict=False):
        places[index] = max(places[index], places[below] + least)
    # Pushed over the top, they are let down again.
    top = high
    for index in reversed(ordered):
        places[index] = min(places[index], top)
        top = places[index] - least
    for index, (name, value) in enumerate(ends):
        axes.annotate(
            name,
            (stops[index], value),
            xytext=(1.02, places[index]),
            textcoords=("axes fraction", "data"),
            color=INK,
            fontsize=9,
            va="center",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": colours[index % len(colours)],
                "lw": 0.6,
                "relpos": (0, 0.5),
                **_PLAIN_LINE,
            },
        )


# Where a label may stand about its point, in points of a typesetter; the first place that is free is taken.
_AROUND = [
    (radius * math.cos(angle), radius * math.sin(angle))
    for radius in (9.0, 16.0, 24.0, 34.0, 46.0, 60.0, 76.0)
    for angle in (math.pi * quarter / 8 for quarter in (2, 6, 14, 10, 4, 12, 0, 8, 1, 7, 15, 9, 3, 5, 13, 11))
]
_FAR = 20.0


def keep_apart(
    figure: Figure,
    axes: Axes,
    labels: Sequence[Annotation],
    bars: Sequence[tuple[float, float, float, float]] = (),
) -> None:
    """Set labels about their points so that they cover neither one another nor a point, nor a bar.

    Parameters
    ----------
    bars
        Left, bottom, right and top of each, in the units of the axes.
    """
    with plain_text(figure):
        settled(figure)
    scale = figure.dpi / 72
    places = [axes.transData.transform(label.xy) for label in labels]
    taken = [Bbox.from_bounds(x - 4 * scale, y - 4 * scale, 8 * scale, 8 * scale) for x, y in places]
    for left, bottom, right, top in bars:
        (x0, y0), (x1, y1) = axes.transData.transform([(left, bottom), (right, top)])
        taken.append(Bbox.from_extents(x0 - scale, y0 - scale, x1 + scale, y1 + scale))
    inside = axes.get_window_extent()
    for label, (x, y) in zip(labels, places, strict=True):
        size = label.get_window_extent()
        for right, up in _AROUND:
            # The side of the label's box that faces the point touches it.
            corner_x = x + right * scale - (size.width if right < -1 else size.width / 2 if right < 1 else 0)
            corner_y = y + up * scale - (size.height if up < -1 else size.height / 2 if up < 1 else 0)
            box = Bbox.from_bounds(corner_x, corner_y, size.width, size.height)
            if not any(box.overlaps(other) for other in taken) and _within(box, inside):
                break
        label.xyann = ((corner_x - x) / scale, (corner_y - y) / scale)
        if math.hypot(right, up) > _FAR:
            # So far off, a label is tied to its point.
            end = ((right - (3 if right > 1 else -3 if right < -1 else 0)), up)
            axes.annotate(
                "",
                label.xy,
                xytext=end,
                textcoords="offset points",
                zorder=2,
                arrowprops={"arrowstyle": "-", "color": GREY, "lw": 0.5, "shrinkA": 0, "shrinkB": 3},
            )
        taken.append(box)


def _within(box: Bbox, frame: Bbox) -> bool:
    return bool(box.x0 >= frame.x0 and box.x1 <= frame.x1 and box.y0 >= frame.y0 and box.y1 <= frame.y1)
