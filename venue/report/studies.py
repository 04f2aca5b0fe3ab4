"""What is kept in a store, as text and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from venue.report.columns import in_columns, left, paragraph, room, short
from venue.report.figures import column
from venue.study.point import Point
from venue.study.registry import MEASURES
from venue.study.results import measures_of
from venue.study.store import KeptStudy

_LONGEST_NAME = 40
_SHOWN = {
    "credits_per_hour": "credits per\nopen hour",
    "return_28d": "return\nwithin 28 d",
    "better_side_wins": "better side\nwins",
}

Settings = Sequence[tuple[str, Point]]


def _when(seconds: float) -> str:
    return datetime.fromtimestamp(seconds).astimezone().isoformat(sep=" ", timespec="minutes")[:16]


def _plain(item: KeptStudy) -> dict[str, Any]:
    return {
        "number": item.number, "kind": item.kind, "venue": item.venue, "scenario": item.source, "began": item.began,
        "last": item.last, "version": item.version, "current": item.current, "settings": item.settings,
        "replications": item.kept, "wanted": item.wanted,
    }  # fmt: skip


def studies_dict(path: str, found: Sequence[KeptStudy]) -> dict[str, Any]:
    """Plain data, as `venue studies --json` prints it; times in seconds since 1970."""
    return {"store": path, "studies": [_plain(item) for item in found]}


def studies_text(path: str, found: Sequence[KeptStudy], width: int = 100) -> str:
    """The list of studies."""
    if not found:
        return f"{path}: nothing is kept"
    rows = [
        [str(item.number), item.kind, short(item.venue, _LONGEST_NAME), short(item.source, _LONGEST_NAME),
         str(item.settings), f"{item.kept}/{item.wanted}", _when(item.last), "" if item.current else "other version"]
        for item in found
    ]  # fmt: skip
    head = ["study", "kind", "venue", "scenario", "settings", "kept of\nwanted", "last used", ""]
    if not any(row[-1] for row in rows):
        head, rows = head[:-1], [row[:-1] for row in rows]
    notes = "Studies share replications, so that what is kept may be more than one of them wants."
    table = in_columns(head, rows, width=width, flush_left=4)
    return "\n\n".join([f"{path}:", table, paragraph(notes, width)])


def study_dict(item: KeptStudy, settings: Settings) -> dict[str, Any]:
    """Plain data of one study: what is known of each setting by now."""
    return _plain(item) | {
        "points": [
            {
                "name": name,
                "strength": point.strength,
                "replications": len(point.replications),
                "measures": measures_of(point.measures(), MEASURES, "money"),
            }
            for name, point in settings
        ]
    }


def study_text(item: KeptStudy, settings: Settings, width: int = 100) -> str:
    """One study: its settings and what is known of them by now."""
    found = [point.measures() if point.replications else {} for _, point in settings]
    columns = [column([measures.get(name) for measures in found]) for name in _SHOWN]
    names = [short(name, _LONGEST_NAME) for name, _ in settings]
    widest = max(map(room, [*names, "setting"]))
    rows = [
        [left(name, widest), str(len(point.replications)), *cells]
        for name, (_, point), *cells in zip(names, settings, *columns, strict=True)
    ]
    state = "" if item.current else "; made by another version, so that the same command runs it anew"
    head = (
        f"study {item.number}: {item.kind} of {item.source}, {item.venue}; begun {_when(item.began)}, last used "
        f"{_when(item.last)}; {item.kept} replications kept, {item.wanted} wanted{state}"
    )
    table = in_columns(["setting", "kept", *_SHOWN.values()], rows, width=width)
    return "\n\n".join([paragraph(head, width), table])
