"""The page put together: one file with its style, its script and its data in it, that asks the network for nothing."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from importlib.resources import files

from venue import __version__
from venue.report.drawing import for_page
from venue.report.page.answer import answer_of
from venue.report.page.answer_words import Answer
from venue.report.page.cards import dial
from venue.report.page.markup import Content, Markup, element, join, name
from venue.report.page.picture import Chart
from venue.report.page.reading import study_of
from venue.report.page.record import Record
from venue.report.page.sections import Section, sections_of

GENERATOR = "venue report"
_NAMES = {"sweep": "Sweep", "run": "Run", "compare": "Comparison", "contest": "Title", "sensitivity": "Sensitivity"}
_SIMULATED = "Figures come from a simulation, with their uncertainty; what each rule does is computed exactly."
_EXACT = "Every figure is computed exactly from the rules; none is simulated."


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
        sections = sections_of(study)
    title = f"{record.venue_name}: {_NAMES[record.kind].lower()} report"
    body = join(
        [
            element("a", "Skip to the answer", href="#answer", class_="skip"),
            element(
                "header",
                element("h1", name(record.venue_name)),
                element(
                    "p",
                    f"{_NAMES[record.kind]} report. ",
                    _EXACT if record.kind == "contest" else _SIMULATED,
                    class_="about",
                ),
            ),
            element(
                "main",
                _answer(answer_of(study)),
                _contents(sections),
                dial(study),
                [_section(item) for item in sections],
                id="content",
            ),
            element(
                "footer",
                element(
                    "p",
                    f"Made by venue {__version__} from results of version {record.result.get('version', 'unknown')}. "
                    "This file holds all it needs and asks the network for nothing.",
                ),
            ),
        ]
    )
    charts = tuple(chart for section in sections for chart in section.charts)
    return Page(_document(title, body), charts, study.first_shown.place if study.settings else 0)


def _answer(answer: Answer) -> Markup:
    parts = [
        element("section", element("h3", title), [_block(item) for item in content])
        for title, content in answer.parts.items()
        if content
    ]
    return element(
        "section",
        element("h2", "The answer", id="answer", tabindex="-1"),
        element("p", answer.question, class_="about"),
        element("p", [[sentence, " "] for sentence in answer.sentences], class_="lead"),
        element("p", answer.besides, class_="lead") if answer.besides else None,
        element("div", parts, class_="parts"),
        class_="answer",
    )


def _block(content: Content) -> Content:
    return content if isinstance(content, Markup) and content.startswith("<ul") else element("p", content)


def _contents(sections: list[Section]) -> Markup:
    return element(
        "nav",
        element("ul", [element("li", element("a", item.title, href=f"#{item.key}")) for item in sections]),
        aria_label="sections",
    )


def _section(item: Section) -> Markup:
    return element("section", element("h2", item.title, id=item.key), item.content, aria_labelledby=item.key)


def _document(title: str, body: Markup) -> str:
    style, script = (files(__package__).joinpath(file).read_text(encoding="utf-8") for file in ("page.css", "page.js"))
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; img-src data:; base-uri 'none'; "
        "form-action 'none'"
    )
    head = join([
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=policy),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="generator", content=f"{GENERATOR} {__version__}"),
        element("meta", name="referrer", content="no-referrer"),
        element("title", title),
        element("style", Markup(style)),
    ])  # fmt: skip
    page = element("html", element("head", head), element("body", body, element("script", Markup(script))), lang="en")
    return f"<!DOCTYPE html>\n{page}\n"
