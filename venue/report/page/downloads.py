"""What was run, the command that gives the same figures again, and all data to save from inside the page."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Mapping

from venue.report.folder import RESULT, SCENARIO
from venue.report.page import commands
from venue.report.page.parts import Block, Code, Download, Downloads, Facts, Name, Prose, Words
from venue.report.page.reading import Study
from venue.study.title_records import ContestRecord

# Characters; packed they take a third more, and a page is to stay under 3 MiB.
_MOST_CARRIED = 1_200_000


def what_was_run(study: Study) -> Iterable[Block]:
    """Scenario, seed, version, the command that gives the same figures, and all data to save."""
    record, data = study.record, study.record.data
    scenario = record.loaded.scenario
    if scenario.about:
        yield Prose([Name(" ".join(scenario.about.split()))])
    facts: list[tuple[str, Words]] = [("scenario", [Name(commands.source(record))])]
    if not isinstance(data, ContestRecord):
        facts += [("seed", [str(data.seed)]), ("replications", [str(data.replications)]),
                  ("days", [f"{data.days}, the first {data.warm_up} left out"])]  # fmt: skip
    off = scenario.study.switches_off
    facts += [("switched off", [Name(", ".join(off))])] if off else []
    facts.append(("version of venue", [data.version]))
    yield Facts(facts)
    yield Prose(["To reproduce these figures, save the resolved scenario below as ", Code(SCENARIO), " and run:"])
    yield Prose([Code(commands.reproduce(study), command=True)])
    yield Prose(["Everything in this file, to save and open elsewhere:"], "no-print")
    files = {SCENARIO: record.loaded.to_toml(), RESULT: _json(study)} | {
        f"{key}.csv": text for key, text in sorted(record.tables.items())
    }
    carried, left = _within_bounds(files)
    yield Downloads([_download(file, text) for file, text in carried.items()])
    if left:
        words = f"Too large to carry in a page, and only in the folder of results: {', '.join(left)}."
        yield Prose([words], "about")
    changed = [why for why in record.left_out.values() if why]
    if changed:
        yield Prose([f"Left out of this page: {'; '.join(changed)}."], "about")


def _json(study: Study) -> str:
    return json.dumps(study.record.data.plain(), allow_nan=False, separators=(",", ":")) + "\n"


def _within_bounds(files: Mapping[str, str]) -> tuple[dict[str, str], list[str]]:
    """Files that a page can carry, the smallest first served, and the names of the others."""
    room, kept = _MOST_CARRIED, set()
    for file in sorted(files, key=lambda file: (file != SCENARIO, len(files[file]))):
        room -= len(files[file])
        if room >= 0:
            kept.add(file)
    return {file: text for file, text in files.items() if file in kept}, [file for file in files if file not in kept]


def _download(file: str, text: str) -> Download:
    """A link that saves a text as a file, without a network or a script."""
    packed = base64.b64encode(text.encode("utf-8", errors="replace")).decode("ascii")
    kind = {"toml": "application/toml", "json": "application/json"}.get(file.rpartition(".")[2], "text/csv")
    return Download(file, f"data:{kind};charset=utf-8;base64,{packed}")
