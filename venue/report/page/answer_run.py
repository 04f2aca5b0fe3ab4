"""The answers of a run, and of a study of what a measure hangs on."""

from __future__ import annotations

from venue.report.page import commands
from venue.report.page.answer_sure import run_longer, still_moving
from venue.report.page.answer_words import (
    Answer,
    bullets,
    command,
    people,
    unsure,
    with_span,
)
from venue.report.page.figures import figure, span
from venue.report.page.markup import Content, element, name
from venue.report.page.reading import FAIR, TAKE, Study
from venue.report.page.setting_charts import RETURN


def run_answer(study: Study) -> Answer:
    """What one setting came to."""
    result, item = study.record.result, study.settings[0]
    count = int(result["replications"])
    question = [
        "What happens at ",
        name(study.record.venue_name),
        f" at catch-up strength {item.label}? Simulated {count} "
        f"{'times' if count > 1 else 'time'} over {result['days']} days, the first {result['warm_up']} left out.",
    ]
    sentences: list[Content] = []
    take = item.measures.get(TAKE)
    if take is not None:
        sentences.append(
            [
                element("strong", figure(take), " credits per open hour"),
                f" (95 % interval {span(take)})" if span(take) else "",
                f" is what the venue takes at catch-up strength {item.label}.",
            ]
        )
    fair, back = item.measures.get(FAIR), item.measures.get(RETURN)
    if fair is not None and back is not None:
        sentences.append(
            [
                "The better side wins ",
                *with_span(fair, "share", " of contests"),
                ", and ",
                *with_span(back, "share", " of visits"),
                " are followed by another within 28 days.",
            ]
        )
    elif fair is not None:
        sentences.append(["The better side wins ", *with_span(fair, "share", " of contests"), "."])
    moving, longer = still_moving(study, item), run_longer(study, item)
    sweep = ["To find the strength to run at: ", command(f"venue sweep {commands.source(study.record)}")]
    return Answer(question, sentences, {
        **({"How sure": [moving]} if moving else {}),
        "What it does to people": people(study, item),
        "What to do next": bullets([*([longer] if longer else []), sweep]),
        "What this cannot tell": unsure(study),
    })  # fmt: skip


def sensitivity_answer(study: Study) -> Answer:
    """What a measure hangs on."""
    result = study.record.result
    first = result["numbers"][0]
    question = [
        "What does ",
        name(str(result["measure"])),
        " of ",
        name(study.record.venue_name),
        f" hang on, at catch-up strength {result['strength']:g}? {result['runs']} runs of {result['days']} days.",
    ]
    sentences: list[Content] = [
        [
            element("strong", "It hangs most on ", name(str(first["number"]))),
            f", which is {first['from']}: over the range in which "
            f"that may lie it changes by {first['effect']:.3g} {result['unit']}.",
        ]
    ]
    return Answer(question, sentences, {"What this cannot tell": unsure(study)})
