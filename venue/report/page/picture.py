"""A chart on the page: SVG whose words stay words, in the page's letters and colours, light or dark.

Matplotlib draws with the colours of `venue.report.drawing`; here each becomes a name that the style sheet gives a value
for light, dark and paper. What belongs to one setting is marked on the way: the page shows it when that setting is
chosen.
"""

from __future__ import annotations

import re
from html import escape

from venue.report.charts.frame import Chart
from venue.report.drawing import COLOURS, GREY, INK, inline

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
_MARK = re.compile(r'<g id="(ghost|only)-(\d+)(?:-\d+)?"')


def svg(chart: Chart, chosen: int) -> str:
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
    head = f'<svg {box} role="img" aria-label="{escape(_printable(chart.alt))}" xmlns:xlink="http://www.w3.org/1999/xlink">'
    return re.sub(r"^<svg[^>]*>", lambda _: head, drawn)


def _marked(match: re.Match[str], chosen: int) -> str:
    on = " on" if int(match[2]) == chosen else ""
    return f'<g class="{match[1]}{on}" data-setting="{match[2]}"'


def _font(match: re.Match[str]) -> str:
    weight = f"font-weight: {match[1]};" if match[1] else ""
    return f"{weight}font-size: {match[2]}px"


def _printable(text: str) -> str:
    """Text without what is no character."""
    return "".join(char if char.isprintable() else " " for char in text)
