"""A chart on the page: SVG whose words stay words, in the page's letters and colours, light or dark.

Matplotlib draws with the colours of `venue.report.drawing`; here each becomes a name that the style sheet gives a value
for light, dark and paper. What belongs to one setting is marked on the way: the page shows it when that setting is
chosen.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from matplotlib.artist import Artist
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from venue.report.drawing import COLOURS, GREY, INK, inline
from venue.report.page.markup import Markup, text

_GRID = "#e4e4e4"
_NAMES = {colour.lower(): f"var(--series-{place})" for place, colour in enumerate(COLOURS)} | {
    INK: "var(--ink)",
    GREY: "var(--quiet)",
    _GRID: "var(--line)",
    "#ffffff": "var(--paper)",
    "#000000": "var(--ink)",
}
_HEAD = re.compile(r"<\?xml.*?\?>|<!DOCTYPE.*?>|<!--.*?-->|<metadata>.*?</metadata>", re.DOTALL)
_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_FONT = re.compile(r"font: (?:(bold|italic|\d{3}) )?([\d.]+)px [^;\"]*")
# As faint as the style sheet has it.
_FAINT = 0.13
_MARK = re.compile(r'<g id="(ghost|only)-(\d+)(?:-\d+)?"')


@dataclass(frozen=True)
class Chart:
    """A chart with what is said about it.

    Attributes
    ----------
    name
        Its file name without ending, and its identity on the page.
    finding
        Its title: what it shows, not what it is of.
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


def only_at(artist: Artist, place: int) -> None:
    """Show an artist only while one setting is chosen."""
    _belongs(artist, f"only-{place}")


def ghost_at(artist: Artist, place: int) -> None:
    """Show an artist in full while one setting is chosen, faintly otherwise."""
    _belongs(artist, f"ghost-{place}")


def _belongs(artist: Artist, mark: str) -> None:
    artist.set_gid(mark)
    if isinstance(artist, Annotation) and artist.arrow_patch is not None:
        artist.arrow_patch.set_gid(mark)  # drawn beside its text, not within


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


def svg(chart: Chart, chosen: int) -> Markup:
    """The drawing as SVG for the page; `chosen` is the setting it opens with."""
    drawn = _HEAD.sub("", inline(chart.figure))
    drawn = _MARK.sub(lambda match: _marked(match, chosen), drawn)
    drawn = re.sub(r'\bid="([^"]+)"', rf'id="{chart.name}-\1"', drawn)
    drawn = re.sub(r"url\(#([^)]+)\)", rf"url(#{chart.name}-\1)", drawn)
    drawn = re.sub(r'href="#([^"]+)"', rf'href="#{chart.name}-\1"', drawn)
    drawn = re.sub(r"#[0-9a-fA-F]{6}\b", lambda match: _NAMES.get(match[0].lower(), match[0]), drawn)
    drawn = _FONT.sub(_font, drawn)
    drawn = _NUMBER.sub(lambda match: f"{float(match[0]):.2f}", drawn)
    drawn = re.sub(r">\s+<", "><", drawn).strip()
    size = re.search(r'viewBox="[^"]*"', drawn)
    box = size[0] if size else ""
    head = f'<svg {box} role="img" aria-label="{text(chart.alt)}" xmlns:xlink="http://www.w3.org/1999/xlink">'
    return Markup(re.sub(r"^<svg[^>]*>", lambda _: head, drawn))


def _marked(match: re.Match[str], chosen: int) -> str:
    on = " on" if int(match[2]) == chosen else ""
    return f'<g class="{match[1]}{on}" data-setting="{match[2]}"'


def _font(match: re.Match[str]) -> str:
    weight = f"font-weight: {match[1]};" if match[1] else ""
    return f"{weight}font-size: {match[2]}px"
