"""What can go wrong, sorted by whose turn it is to act.

A mistake in what the user gave (a scenario, an option, a folder) is an `InputError`: exit code 2.
A run that went wrong although its input was sound is a `RunError`: exit code 1.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


class VenueError(Exception):
    """Base of every error that venue raises on purpose."""

    exit_code = 1


class InputError(VenueError):
    """The user's input cannot be used; the message says what, where, the bound and the likely fix."""

    exit_code = 2


class RunError(VenueError):
    """A run failed although its input was sound."""


class FailedReplications(RunError):
    """Some replications of a study failed: a line for each, with the command that runs it alone."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("\n".join(lines))


class Stopped(KeyboardInterrupt):
    """A study was stopped by hand: so many replications were done, and are kept in the store of this name, if any."""

    def __init__(self, kept: int, total: int, store: str) -> None:
        super().__init__()
        self.kept, self.total, self.store = kept, total, store


def one_line(text: str) -> str:
    """Text on one line: what a terminal would not print as a character is written as an escape."""
    return "".join(char if char.isprintable() else char.encode("unicode_escape").decode() for char in text)


# Marks that turn the writing direction of what follows, so that it reads as something else.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def is_control(char: str) -> bool:
    """Whether a terminal would obey a character, or break the line at it, and not show it."""
    return unicodedata.category(char) in ("Cc", "Cs", "Zl", "Zp") or char in _TURNING


def readable(text: str) -> str:
    """Lines of text as a terminal may have them, whoever wrote what is in them: control characters as escapes."""
    if text.isprintable():
        return text
    return "".join(
        char.encode("unicode_escape").decode() if is_control(char) and char != "\n" else char for char in text
    )


def in_brief(text: str, most: int = 60) -> str:
    """The beginning of a text that somebody wrote, for a message."""
    return text if len(text) <= most else f"{text[: most - 3]}..."


class Fault(ValueError):
    """A value that cannot be used: what is wrong with it, and what would do. Raised where the key is not known."""

    def __init__(self, what: str, fix: str = "") -> None:
        super().__init__(f"{what}; {fix}" if fix else what)
        self.what, self.fix = what, fix


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a scenario: where, what was found, what would do."""

    path: str
    what: str
    fix: str = ""

    def is_at(self, key: str) -> bool:
        """Whether it is about this key path, or something within it."""
        return self.path == key or self.path.startswith((f"{key} ", f"{key}.", f"{key}["))

    def line(self, source: str) -> str:
        """One line for people: file, key, value, bound, fix."""
        fix = f"; {self.fix}" if self.fix else ""
        return one_line(f"{source}: {self.path}: {self.what}{fix}")


class ScenarioError(InputError):
    """A scenario cannot be used. Carries every problem found, one line each."""

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        super().__init__("\n".join(problem.line(source) for problem in self.problems))

    def named(self, names: Mapping[str, str]) -> ScenarioError:
        """The same error with keys called what the user called them, as `--seed` for `study.seed`."""
        return ScenarioError(self.source, [_renamed(problem, names) for problem in self.problems])

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[str, tuple[Problem, ...]]]:
        return type(self), (self.source, self.problems)


def _renamed(problem: Problem, names: Mapping[str, str]) -> Problem:
    for key, name in names.items():
        if problem.is_at(key):
            return Problem(name + problem.path[len(key) :], problem.what, problem.fix)
    return problem
