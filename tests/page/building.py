"""Records made up for the tests of the page, read back from HTML as a program would."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from tests.checking import check_that
from tests.report.building import Effect, no_effect, run_result, scenario, sweep_result
from venue.report.folder import Folder
from venue.report.page.record import Record, made
from venue.report.study_tables import run_files, sweep_files
from venue.scenario.load import Loaded

STRENGTHS = (0.0, 0.5, 1.0, 1.5, 2.0)
HOSTILE = {
    "markup": "<script>window.broken = 1</script><img src=x onerror='window.broken=1'>",
    "quotes": "\"'`&quot;\\",
    "right to left": "قاعة الأمواج: ים 12",
    "long": "Verylongnamewithoutanyspace" * 7,
    "formula": "=HYPERLINK(1)",
    "maths": "$\\frac{a}{b}$ 100 %",
}


def falling(name: str, strength: float) -> float:
    """Fairness that falls and a take that rises a little with strength."""
    change = {"better_side_wins": -0.04, "credits_per_hour": 0.03, "return_28d": -0.05, "close_finishes": 0.2}
    return 1.0 + change[name] * strength if name in change else no_effect(name, strength)


def sweep_plain(loaded: Loaded | None = None, effect: Effect = falling, *, people: bool = True) -> dict[str, Any]:
    """A sweep as JSON has it; with what visitors did, unless told otherwise."""
    loaded = loaded or scenario()
    result = sweep_result(loaded, STRENGTHS, effect).to_dict()
    for point in result["points"]:
        point |= {"by_margin": [], "return_curve": [], "cohorts": [], "weeks": [], "moved_because": {}}
        if people:
            point |= what_people_did(float(point["strength"]), next(iter(loaded.scenario.titles)))
    return result


def what_people_did(strength: float, title: str) -> dict[str, Any]:
    """Offers by margin, returns, cohorts and weeks, by formulas."""

    def figure(mean: float, half: float = 0.02) -> dict[str, float]:
        return {"mean": mean, "low": mean - half, "high": mean + half}

    margins = range(-6, 7)
    return {
        "by_margin": [
            {
                "title": title,
                "margin": margin,
                "band": 1,
                "offers": 400 - 50 * abs(margin),
                "taken": figure(0.8 - 0.04 * abs(margin - 1)),
                "perceived": figure(0.5 + 0.05 * margin),
                "true": figure(0.5 + (0.06 - 0.01 * strength) * margin),
            }
            for margin in margins
        ],
        "return_curve": [{"days": days, **figure(0.35 * (1 - math.exp(-days / 12)))} for days in range(1, 36)],
        "cohorts": [
            {
                "week": week,
                "visitors": 90,
                "curve": [
                    {"days": days, **figure(0.3 * (1 - math.exp(-days / (9 + week))))}
                    for days in range(1, 36 - 7 * week)
                ],
            }
            for week in (1, 2, 3)
        ],
        "weeks": [
            {
                "week": week,
                "warm_up": week == 1,
                "visits_per_hour": figure(9.0),
                "credits_per_hour": figure(140 - 60 / week, 3),
                "suspicion": figure(0.05),
            }
            for week in range(1, 7)
        ],
    }


def sweep_record(loaded: Loaded | None = None, effect: Effect = falling, *, people: bool = True) -> Record:
    """A sweep with all that belongs to it."""
    loaded = loaded or scenario()
    return made(
        sweep_plain(loaded, effect, people=people), loaded, sweep_files(sweep_result(loaded, STRENGTHS, effect))
    )


def run_record(loaded: Loaded | None = None) -> Record:
    """A run with all that belongs to it."""
    result = run_result(loaded)
    return made(result.to_dict(), result.loaded, run_files(result))


def sweep_folder(path: Path, loaded: Loaded | None = None) -> Path:
    """A folder of a sweep, without charts."""
    loaded = loaded or scenario()
    Folder(path).write(sweep_plain(loaded), loaded, sweep_files(sweep_result(loaded, STRENGTHS, falling)), {})
    return path


def sensitivity_plain(venue_measure: str = "credits_per_hour") -> dict[str, Any]:
    """What `venue sensitivity --json` prints."""
    numbers = [
        {
            "number": f"people.buy_in.{name}",
            "from": source,
            "value": 1.0,
            "low": 0.7,
            "high": 1.3,
            "unit": "utility",
            "effect": effect,
            "half_width": effect / 10,
            "mean_effect": effect,
            "spread": 0.1,
            "share_first": None,
            "share_total": None,
            "share_first_half_width": None,
            "share_total_half_width": None,
        }
        for name, source, effect in (
            ("chance", "assumed", 28.5),
            ("closeness", "fitted", 12.0),
            ("price", "not stated", 3.0),
        )
    ]
    return {
        "kind": "sensitivity",
        "findings": {"foremost": "people.buy_in.chance", "known": False, "next_to_measure": "people.buy_in.chance"},
        "scenario": "starter.toml",
        "version": "0.1.0",
        "seed": 1,
        "strength": 1.0,
        "days": 42,
        "warm_up": 7,
        "replications": 1,
        "measure": venue_measure,
        "unit": "credits per open hour",
        "runs": 40,
        "numbers": numbers,
        "left_out": [],
    }


class Elements(HTMLParser):
    """Every element of a page with its attributes, the text in it, and the elements around it."""

    _void = {"meta", "input", "br", "hr", "link", "img"}

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[dict[str, Any]] = []
        self._open: list[dict[str, Any]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        item = {
            "tag": tag,
            "attributes": {key: value or "" for key, value in attrs},
            "text": "",
            "within": list(self._open),
        }
        self.found.append(item)
        if tag not in self._void:
            self._open.append(item)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append(
            {
                "tag": tag,
                "attributes": {key: value or "" for key, value in attrs},
                "text": "",
                "within": list(self._open),
            }
        )

    def handle_endtag(self, tag: str) -> None:
        assert self._open and self._open[-1]["tag"] == tag, f"{tag} ends where {self._open[-1:]} is open"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        for item in self._open:
            item["text"] += data

    def all(self, tag: str, **attributes: str) -> list[dict[str, Any]]:
        """Elements of a kind with these attributes."""
        wanted = {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items()}
        return [item for item in self.found if item["tag"] == tag and wanted.items() <= item["attributes"].items()]


def read_number(text: str) -> tuple[float, float]:
    """A figure as it is written, and half of its last digit; percentages as shares."""
    scale = 100.0 if "%" in text else 1.0
    digits = text.replace("\u00a0", " ").replace("−", "-").replace("%", "").split("±")[0].strip()
    places = len(digits.partition(".")[2])
    return float(digits) / scale, 0.5 * 10.0**-places / scale * (1 + 1e-9)


def assert_figures_are_those_of(plain: Mapping[str, Any], page: Elements) -> int:
    """Every figure on a card is the number of the JSON, and what is read of it is that number rounded."""
    checked = 0
    for item in page.all("data"):
        card = next((outer for outer in item["within"] if "card" in outer["attributes"].get("class", "").split()), None)
        tile = next(
            (outer["attributes"]["data-measure"] for outer in item["within"] if "data-measure" in outer["attributes"]),
            None,
        )
        if card is None or tile is None:
            continue
        told = plain["points"][int(card["attributes"]["data-setting"])]["measures"][tile]["mean"]
        check_that(float(item["attributes"]["value"]) == told, f"{tile}: {item['attributes']['value']}, {told}")
        written, half = read_number(item["text"])
        check_that(abs(written - told) <= half, f"{tile}: {item['text']}, {told}")
        checked += 1
    return checked


def cells(text: str) -> list[list[str]]:
    """A CSV text as rows of cells."""
    return list(csv.reader(io.StringIO(text)))


def plain_copy(item: Any) -> Any:
    """Plain data of one's own."""
    return json.loads(json.dumps(item))
