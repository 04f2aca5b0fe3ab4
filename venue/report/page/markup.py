"""HTML in small pieces: whatever comes from a scenario goes in as text, never as markup.

A page is put together as one would nest boxes: `element("p", "take: ", name("<b>"))` is a paragraph that shows the
five characters.
"""

from __future__ import annotations

import html
import unicodedata
from collections.abc import Iterable


class Markup(str):
    """Text that is HTML already, and goes in as it stands."""

    __slots__ = ()


Content = str | None | Iterable["Content"]

_VOID = {"meta", "input", "br", "hr", "link"}


def text(content: str) -> Markup:
    """Text as HTML: markup characters escaped, what is no character shown as a placeholder."""
    shown = content if content.isprintable() else "".join(
        char if char in "\n\t" or unicodedata.category(char) not in ("Cc", "Cs") else "\ufffd" for char in content
    )  # fmt: skip
    # A percent sign and a half-width stay with their figure where a line breaks.
    shown = shown.replace(" %", "\u00a0%").replace("± ", "±\u00a0")
    return Markup(html.escape(shown, quote=True))


def element(tag: str, *content: Content, **attributes: str | float | bool | None) -> Markup:
    """An element of HTML or SVG.

    Parameters
    ----------
    content
        Texts, pieces of markup, or lists of either; None is left out.
    attributes
        By name, with `_` for `-` and one `_` at the end dropped (`class_`, `data_setting`); True gives a name alone,
        None and False nothing. A value that is markup goes in as it stands.
    """
    head = [tag]
    for key, value in attributes.items():
        if value is True:
            head.append(_named(key))
        elif value is not None and value is not False:
            head.append(f'{_named(key)}="{value if isinstance(value, Markup) else text(str(value))}"')
    start = Markup(f"<{' '.join(head)}>")
    return start if tag in _VOID else Markup(f"{start}{join(content)}</{tag}>")


def join(content: Content) -> Markup:
    """Pieces one after another."""
    if content is None:
        return Markup("")
    if isinstance(content, Markup):
        return content
    if isinstance(content, str):
        return text(content)
    return Markup("".join(join(item) for item in content))


def name(content: str) -> Markup:
    """A name from a scenario: text of any script, which turns the direction of nothing around it."""
    return element("bdi", content)


def _named(key: str) -> str:
    return key.removesuffix("_").replace("_", "-")
