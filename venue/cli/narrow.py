"""Help in narrow windows: examples that are too long for a line go on in the next, as a shell takes them."""

from __future__ import annotations

import re

import click

_TEXT = r"""(?:[^\s"']|"[^"]*"|'[^']*')+"""
# An option and its value stay on one line.
_WORD = re.compile(rf"--\S+\s(?!--){_TEXT}|{_TEXT}")
_INDENT = "    "


def folded(line: str, width: int) -> list[str]:
    """A command broken between its words, each line but the last ending in a backslash; words stay whole."""
    start = line[: len(line) - len(line.lstrip())]
    lines, room = [start], width - len(" \\")
    for word in _WORD.findall(line):
        if len(lines[-1]) + 1 + len(word) > room and lines[-1].strip():
            lines[-1] += " \\"
            lines.append(start + _INDENT)
        lines[-1] += word if not lines[-1].strip() else f" {word}"
    return lines


class Formatter(click.HelpFormatter):
    """Click's own, which leaves examples as they are written."""

    def write_text(self, text: str) -> None:
        """Text wrapped to the window, examples too."""
        before = len(self.buffer)
        super().write_text(text)
        lines = "".join(self.buffer[before:]).split("\n")
        self.buffer[before:] = ["\n".join(part for line in lines for part in self._whole(line))]

    def _whole(self, line: str) -> list[str]:
        too_long = len(line) > self.width and line.strip().startswith("venue ")
        return folded(line, self.width) if too_long else [line]


class Context(click.Context):
    """A command's context, with help that keeps to the window."""

    formatter_class = Formatter
