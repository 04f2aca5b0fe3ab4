"""What the page of results costs: beside its sweep, and until it answers in a browser."""

from __future__ import annotations

import resource
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
# Wall time beside a sweep drowns in what else a machine does; the work of a page does not.
_MOST_WORK = 3.5


def seconds(*words: str) -> tuple[float, float]:
    """Wall time of a command in a process of its own, and processor time of it and of the processes it waits for."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "venue", *words], check=True, stdout=subprocess.DEVNULL, env=environment(VENUE_STORE="")
    )
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def test_a_page_of_nine_settings_beside_its_sweep(tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    alone, both = [], []
    for _ in range(2):  # in turns, so that what else the machine does falls on both
        alone.append(seconds(*_SWEEP, *_SIZE))
        both.append(seconds(*_SWEEP, *_SIZE, "--report", str(file)))
    (wall, work), (wall_both, work_both) = (map(min, zip(*times, strict=True)) for times in (alone, both))
    print(
        f"\nsweep with its page over the sweep alone: {wall_both / wall:.2f} ({wall_both - wall:.2f} s beyond "
        f"{wall:.2f} s; of a processor's time {work_both - work:.2f} s beyond {work:.2f} s); the page has "
        f"{file.stat().st_size / 1024:.0f} KiB"
    )
    assert wall_both - wall < _MOST_BESIDE and work_both - work < _MOST_WORK


def ready(browser: Browser, file: Path) -> float:
    """Seconds until a file that is opened answers to its reader."""
    browser.open(file)
    end = time.monotonic() + 10.0
    while True:
        told = float(browser.ask("return (performance.getEntriesByType('navigation')[0] || {}).domInteractive || 0"))
        if told > 0.0:
            return told / 1000
        assert time.monotonic() < end, f"{file.name}: the browser does not say when it was ready"
        time.sleep(0.05)


def test_the_page_answers_at_once(tmp_path: Path) -> None:
    file, empty = tmp_path / "page.html", tmp_path / "empty.html"
    empty.write_text("<!DOCTYPE html><title>empty</title>", encoding="utf-8")
    try:
        browser = Browser(tmp_path)
    except pytest.skip.Exception as reason:
        print(f"\nno figure: {reason}")
        raise
    try:
        seconds(*_SWEEP, *_SIZE, "--report", str(file))
        took = {place: [ready(browser, place) for _ in range(3)] for place in (empty, file)}
        moved = browser.ask(
            "const dial = document.getElementById('dial'), start = performance.now();"
            "for (let place = 0; place < 9; place += 1) { dial.value = place; dial.dispatchEvent(new Event('input'));"
            " document.body.getBoundingClientRect(); } return (performance.now() - start) / 9000;"
        )
    finally:
        browser.close()
    best = min(took[file])
    print(
        f"\ninteractive after {best:.3f} s ({', '.join(f'{each:.3f}' for each in took[file])}; an empty page "
        f"{min(took[empty]):.3f} s); a step of the slider {moved:.4f} s"
    )
    assert best < _MOST_TO_ANSWER and moved < 0.1
