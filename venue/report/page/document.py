"""The page put together: one file with its style, its script and its data in it, that asks the network for nothing."""

from __future__ import annotations

import base64
import hashlib
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from venue import __version__
from venue.report.charts.collection import charts_of
from venue.report.charts.frame import PAGE, Chart
from venue.report.drawing import for_page
from venue.report.page.picture import svg
from venue.report.page.reading import study_of
from venue.report.page.record import Record
from venue.report.page.sections import content_of

GENERATOR = "venue report"


@dataclass(frozen=True)
class Page:
    """A page as text, the charts in it, and the place of the setting that it opens with."""

    html: str
    charts: tuple[Chart, ...]
    chosen: int = 0


def page_of(record: Record) -> Page:
    """The page of a record.

    Raises
    ------
    InputError
        If its result is not such as venue writes.
    """
    study = study_of(record)
    with for_page():
        charts = charts_of(study, PAGE)
        content = content_of(study, charts)
        style, script = _file("page.css"), _file("page.js")
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        policy = (
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; img-src data:; "
            "base-uri 'none'; form-action 'none'"
        )
        html = templates().get_template("page.html.j2").render(
            page=content, policy=policy, generator=f"{GENERATOR} {__version__}", style=Markup(style),
            script=Markup(script),
        )  # fmt: skip
    return Page(html + "\n", tuple(charts.values()), content.chosen)


def _file(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


@cache
def templates() -> Environment:
    """The templates; whatever they are given is escaped."""
    environment = Environment(
        loader=PackageLoader(__package__), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, finalize=_readable,
    )  # fmt: skip
    environment.filters |= {"svg": lambda chart, chosen: Markup(svg(chart, chosen)), "number": repr}
    return environment


def _readable(value: Any) -> Any:
    """Text as it is shown: what is no character becomes a placeholder, a figure keeps its sign where a line breaks."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    shown = value if value.isprintable() else "".join(
        char if char in "\n\t" or unicodedata.category(char) not in ("Cc", "Cs") else "\ufffd" for char in value
    )  # fmt: skip
    return shown.replace(" %", "\u00a0%").replace("± ", "±\u00a0")
