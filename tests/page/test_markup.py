"""What comes from a scenario is text on the page, whatever is in it."""

from __future__ import annotations

from html.parser import HTMLParser

from hypothesis import given, settings
from hypothesis import strategies as st

from venue.report.page.document import templates
from venue.report.page.parts import Code, Figure, Grid, Name, Row, Strong

SAY = '{% from "blocks.html.j2" import block %}{{ block(item, 0) }}'


class _Texts(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def shown(content: str) -> _Texts:
    """A table with a text in every place that a text can take."""
    cells = [[Name(content)], [content], [Code(content)], [Strong([content])], [Figure(content, 1.5)]]
    grid = Grid(content, [[content]] * 5, [Row(cells, 3, on=True)])
    return _Texts(templates().from_string(SAY).render(item=grid))


@settings(max_examples=40)
@given(st.text(alphabet=st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=60))
def test_any_text_comes_back_from_a_parser_as_it_was(content: str) -> None:
    read = shown(content)
    assert set(read.tags) == {"div", "table", "caption", "span", "thead", "tr", "th", "tbody", "td", "bdi", "code",
                              "strong", "data"}  # fmt: skip
    text = content.replace(" %", "\u00a0%").replace("± ", "±\u00a0")
    assert "".join(read.texts).count(text) >= 11
    assert dict(read.attributes)["aria-label"] == text
    assert not [key for key, _ in read.attributes if key.startswith("on")]


def test_unescaped_markup_would_be_seen() -> None:
    read = _Texts(templates().from_string("{{ item|safe }}").render(item="<b>x</b>"))
    assert read.tags == ["b"]
    assert _Texts(templates().from_string("{{ item }}").render(item="<b>x</b>")).tags == []


def test_what_is_no_character_is_shown_as_a_placeholder() -> None:
    assert shown("a\x00b\ud800c").texts.count("a\ufffdb\ufffdc") >= 8
