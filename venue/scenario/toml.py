"""TOML text read within limits: a scenario is some kilobytes, and the reader takes time that grows with the square of
a dotted key's length.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from venue.errors import Fault

LARGEST_FILE = 1 << 20
_MOST_DOTS, _MOST_DOTS_IN_LINE = 20_000, 2_000


def read_toml(text: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Raises
    ------
    Fault
        If it is none, or larger than any scenario.
    """
    if len(text) > LARGEST_FILE:
        raise Fault(f"has {len(text)} characters, must have at most {LARGEST_FILE}", "name a scenario")
    if text.count(".") > _MOST_DOTS or any(line.count(".") > _MOST_DOTS_IN_LINE for line in text.splitlines()):
        raise Fault("not TOML for a scenario: it is keys within keys without end", "take the inner keys out")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise Fault("not TOML for a scenario: it nests without end", "take the inner brackets out") from None
    except ValueError as error:
        raise Fault(*_not_toml(str(error), text)) from None


def _not_toml(error: str, text: str) -> tuple[str, str]:
    """What is wrong with a text that is not TOML, and the line to mend."""
    # The parser names a key that stands twice as Python would.
    what = re.sub(r"\(('[^)]*',?)\)", lambda match: ".".join(re.findall(r"'([^']*)'", match[1])), error)
    what = what if len(what) <= 200 else what[:197] + "..."
    place = re.search(r"at line (\d+)", error)
    lines = text.splitlines()
    if not place or not 1 <= int(place[1]) <= len(lines):
        return f"not TOML: {what}", "mend the end of the file; text, durations and times go in quotes"
    line = lines[int(place[1]) - 1].strip()
    return f"not TOML: {what}", f"mend `{line if len(line) <= 60 else line[:57] + '...'}`; text goes in quotes"
