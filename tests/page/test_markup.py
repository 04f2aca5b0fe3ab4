"""What comes from a scenario is text on the page, whatever is in it."""

from __future__ import annotations

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from venue.report.page.markup import Markup, element, join, name, text


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


@given(st.text(alphabet=st.characters(exclude_categories=("Cc", "Cs")), max_size=60))
def test_any_text_comes_back_from_a_parser_as_it_was(content: str) -> None:
    read = _Texts(element("p", content, title=content))
    assert read.tags == ["p"]
    shown = content.replace(" %", "\u00a0%").replace("± ", "±\u00a0")
    assert "".join(read.texts) == shown
    assert dict(read.attributes)["title"] == shown


def test_unescaped_markup_would_be_seen() -> None:
    assert _Texts(element("p", Markup("<b>x</b>"))).tags == ["p", "b"]


def test_elements() -> None:
    assert element("input", type="range", data_step="1", disabled=True, hidden=False, id=None) == (
        '<input type="range" data-step="1" disabled>'
    )
    assert element("p", "a", None, ["b", [element("i", "c")]], class_="x") == '<p class="x">ab<i>c</i></p>'
    assert join([]) == ""


def test_names_keep_their_direction_to_themselves() -> None:
    assert name("قاعة") == "<bdi>قاعة</bdi>"


def test_what_is_no_character_is_shown_as_a_placeholder() -> None:
    assert text("a\x00b\x1b\ud800") == "a\ufffdb\ufffd\ufffd"
