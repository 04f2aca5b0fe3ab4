"""What the page of results costs: beside its sweep, and until it answers in a browser."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.building import ROOT, environment
from tests.page.browser import Browser

pytestmark = pytest.mark.benchmark

_SWEEP = ("sweep", str(ROOT / "scenarios" / "pier.toml"), "--strengths", "0:2:0.25", "--no-store", "--quiet")
# The size of study that a page is wanted of at once; a full one only makes the ratio smaller.
_SIZE = ("--replications", "2", "--days", "42")
_MOST_BESIDE, _MOST_TO_ANSWER = 5.0, 1.0


def seconds(*words: str) -> float:
    """Wall time of a command in a process of its own."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "venue", *words], check=True, stdout=subprocess.DEVNULL, env=environment(VENUE_STORE="")
    )
    return time.perf_counter() - start


def test_a_page_of_nine_settings_beside_its_sweep(tmp_path: Path) -> None:
    alone = min(seconds(*_SWEEP, *_SIZE) for _ in range(2))
    file = tmp_path / "page.html"
    both = min(seconds(*_SWEEP, *_SIZE, "--report", str(file)) for _ in range(2))
    print(
        f"\nsweep with its page over the sweep alone: {both / alone:.2f} ({both - alone:.2f} s beyond {alone:.2f} s); "
        f"the page has {file.stat().st_size / 1024:.0f} KiB"
    )
    assert both - alone < _MOST_BESIDE


def test_the_page_answers_at_once(tmp_path: Path) -> None:
    seconds(*_SWEEP, *_SIZE, "--report", str(tmp_path / "page.html"))
    browser = Browser(tmp_path)
    try:
        (tmp_path / "empty.html").write_text("<!DOCTYPE html><title>empty</title>", encoding="utf-8")
        took = {}
        for name in ("empty.html", "page.html", "empty.html", "page.html"):
            browser.open(tmp_path / name)
            took[name] = browser.ask("return performance.getEntriesByType('navigation')[0].domInteractive") / 1000
        moved = browser.ask(
            "const dial = document.getElementById('dial'), start = performance.now();"
            "for (let place = 0; place < 9; place += 1) { dial.value = place; dial.dispatchEvent(new Event('input'));"
            " document.body.getBoundingClientRect(); } return (performance.now() - start) / 9000;"
        )
    finally:
        browser.close()
    ratio = took["page.html"] / max(took["empty.html"], 1e-3)
    print(
        f"\ninteractive after {took['page.html']:.3f} s, {ratio:.1f} times an empty page; a step of the slider "
        f"{moved:.4f} s"
    )
    assert took["page.html"] < _MOST_TO_ANSWER and moved < 0.1
