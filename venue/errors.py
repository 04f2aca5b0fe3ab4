"""What can go wrong, sorted by whose turn it is to act.

A mistake in what the user gave (a scenario, an option, a folder) is an `InputError`: exit code 2.
A run that went wrong although its input was sound is a `RunError`: exit code 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class VenueError(Exception):
    """Base of every error that venue raises on purpose."""

    exit_code = 1


class InputError(VenueError):
    """The user's input cannot be used; the message says what, where, the bound and the likely fix."""

    exit_code = 2


class RunError(VenueError):
    """A run failed although its input was sound."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a scenario: where, what was found, what would do."""

    path: str
    what: str
    fix: str = ""

    def line(self, source: str) -> str:
        """One line for people: file, key, value, bound, fix."""
        fix = f"; {self.fix}" if self.fix else ""
        return f"{source}: {self.path}: {self.what}{fix}"


class ScenarioError(InputError):
    """A scenario cannot be used. Carries every problem found, one line each."""

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        super().__init__("\n".join(problem.line(source) for problem in self.problems))

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[str, tuple[Problem, ...]]]:
        return type(self), (self.source, self.problems)
