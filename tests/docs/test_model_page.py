"""docs/model.md: what holds of people and floor unless a scenario says otherwise is what the program takes."""

from __future__ import annotations

import re

import pytest

from .blocks import ROOT
from .scenario_page import Section, default_of, sections

PAGE = (ROOT / "docs" / "model.md").read_text(encoding="utf-8")
# Parts that are a place, hours or weekdays, and no behaviour.
NO_BEHAVIOUR = ("venue", "venue.hours", "venue.arrivals.weekday", "venue.technician.hours", "people")
# A name to read, which does nothing.
NO_MEANING = {"label"}
_PAIR = re.compile(r"`(\w+)` (`[^`]*`|[^,`]+)")


def defaults(section: Section, headings: set[str]) -> dict[str, str]:
    """The defaults of a part as the page writes them; keys that must be given or are tables of their own have none."""
    found = {name: default_of(field) for name, field in section.part.model_fields.items()}
    return {
        name: text.strip("`") or "none"
        for name, text in found.items()
        if text != "**required**" and f"{section.heading}.{name}" not in headings - {"venue.till.bundles"}
    }


def told(page: str, heading: str) -> dict[str, str]:
    """The same as a page has them in the row of that part."""
    rows = [line for line in page.splitlines() if line.startswith(f"| `{heading}` |")]
    assert len(rows) == 1, f"one row is about {heading}"
    return {name: text.strip().strip("`") for name, text in _PAIR.findall(rows[0].split(" | ")[1])}


def parts() -> list[Section]:
    return [
        section
        for section in sections()
        if section.heading.partition(".")[0] in ("venue", "people", "machines", "limits")
        and section.heading not in NO_BEHAVIOUR
    ]


HEADINGS = {section.heading for section in sections()}
BEHAVIOURS = [section for section in parts() if defaults(section, HEADINGS)]


@pytest.mark.parametrize("section", BEHAVIOURS, ids=lambda section: section.heading)
def test_defaults_in_the_model_are_the_programs(section: Section) -> None:
    assert told(PAGE, section.heading) == defaults(section, HEADINGS)


def test_control_a_default_that_has_drifted_and_a_key_left_out() -> None:
    notice = next(section for section in BEHAVIOURS if section.heading == "people.suspicion")
    for right, wrong in (("`notice` 0.2", "`notice` 0.3"), ("`notice` 0.2, ", "")):
        page = PAGE.replace(right, wrong)
        assert page != PAGE and told(page, notice.heading) != defaults(notice, HEADINGS)


@pytest.mark.parametrize("section", parts(), ids=lambda section: section.heading)
def test_every_part_is_explained_in_words(section: Section) -> None:
    """Keys are named in the text too, as code, not in the table of defaults alone."""
    text = "\n".join(line for line in PAGE.splitlines() if not line.startswith("|"))
    code = set(re.findall(r"\w+", " ".join([*re.findall(r"`[^`\n]+`", text), *re.findall(r"^    .*", text, re.M)])))
    assert {name for name in section.part.model_fields if name not in code} - NO_MEANING == set()
