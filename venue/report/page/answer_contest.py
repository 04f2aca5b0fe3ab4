"""The answer of a title: what its rules do, and whether it can be beaten."""

from __future__ import annotations

from venue.report.page import commands
from venue.report.page.answer_words import (
    Answer,
    bullets,
    command,
    listed,
)
from venue.report.page.figures import percent
from venue.report.page.markup import Content, element, name
from venue.report.page.reading import Study


def contest_answer(study: Study) -> Answer:
    """What the rules of a title do."""
    result = study.record.result
    title = study.record.loaded.scenario.titles[result["title"]]
    points = result["points"]
    first, last = points[0], points[-1]
    question = [
        "What do the rules of ",
        name(title.label or str(result["title"])),
        " do? Computed exactly, without a floor.",
    ]
    one = [
        element(
            "strong",
            f"At strength {first['strength']:g} the better side wins {percent(first['better_side_wins'])} of contests",
        ),
        f", and {percent(first['close_finishes'])} end close.",
    ]
    two = (
        f"At strength {last['strength']:g} it wins {percent(last['better_side_wins'])}, and "
        f"{percent(last['close_finishes'])} end close."
    )
    faults = result["trailing_pays"]["faults"]
    beaten = (
        f"There are {len(faults)} scores at which a player would do better to lose a point on purpose: see below."
        if faults
        else "There is no score at which a player would do better to lose a point on purpose."
    )
    stays = result["apart"]["stays_on"]
    fixed: list[Content] = (
        ["No switch turns off ", *listed([name(str(rule)) for rule in stays]), "."]
        if stays
        else ["Every rule can be switched off."]
    )
    return Answer(
        question,
        [one, *([two] if len(points) > 1 else [])],
        {
            "Can it be beaten": [beaten],
            "What stays on": [fixed],
            "What to do next": bullets(
                [["Ask what the floor makes of it: ", command(f"venue sweep {commands.source(study.record)}")]]
            ),
            "What this cannot tell": bullets(
                [
                    "These figures are exact for the rules as written and the skills that newcomers bring; "
                    "how people take to them is the floor's to say."
                ]
            ),
        },
    )
