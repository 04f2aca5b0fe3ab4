"""The page in a real browser: silent, within its width, in reach of every reader, its figures those of the JSON."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.report.building import renamed, scenario
from venue.report.page.document import page_of
from venue.report.page.record import Record, made

from .browser import Browser
from .building import HOSTILE, read_number, run_record, sensitivity_plain, sweep_plain, sweep_record
from .test_page import scenario_of_sensitivity, tied, with_weeks

# A browser takes its time, and not every machine has one.
pytestmark = pytest.mark.slow

WIDTHS = (360, 768, 1400)
# As text every kind is checked in test_page.py; these are what a browser could stumble over.
SHOWN = ("markup", "long", "right to left")
# Printable width and height in CSS pixels, at 96 to an inch, inside margins of 14 mm.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
_MARGIN = 14.0


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    found = Browser(tmp_path_factory.mktemp("downloads"))
    yield found
    found.close()


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("page") / "sweep.html"
    record = sweep_record().with_sensitivity(scenario_of_sensitivity(sensitivity_plain()))
    file.write_text(page_of(record).html, encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("hostile")
    files = {}
    for kind in SHOWN:
        name = HOSTILE[kind]
        files[kind] = folder / f"{kind.replace(' ', '-')}.html"
        files[kind].write_text(page_of(sweep_record(renamed(name))).html, encoding="utf-8")
    return files


def altered(page: Path, old: str, new: str) -> Path:
    """The page with one thing changed: what a check must see."""
    text = page.read_text(encoding="utf-8")
    assert old in text
    file = page.with_name(f"altered-{abs(hash((old, new)))}.html")
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    return file


def test_it_opens_without_a_word_and_asks_for_nothing(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.ask("document.querySelectorAll('details').forEach(item => { item.open = true; });")
    assert browser.heard() == ([], [])


def test_a_page_that_asks_for_something_is_stopped_and_seen(browser: Browser, page: Path) -> None:
    browser.open(altered(page, "</main>", '<img src="http://127.0.0.1:9/x.png" alt=""></main>'))
    _, errors = browser.heard()
    assert any("Content Security Policy" in error for error in errors)
    policy = re.search(r'<meta http-equiv="Content-Security-Policy"[^>]*>', page.read_text(encoding="utf-8"))
    assert policy is not None
    open_page = altered(page, policy[0], '<meta name="x" content="y">')
    browser.open(altered(open_page, "</main>", '<img src="http://127.0.0.1:9/x.png" alt=""></main>'))
    requests, errors = browser.heard()
    assert requests == ["http://127.0.0.1:9/x.png"] and errors


def shown_figures(browser: Browser) -> dict[str, Any]:
    """The figures that can be seen on cards: by measure, the value and what is read."""
    return dict(
        browser.ask(
            "return Object.fromEntries([...document.querySelectorAll('.card [data-measure] data')]"
            ".filter(item => item.checkVisibility()).map(item => [item.closest('[data-measure]').dataset.measure,"
            "[item.value, item.textContent, item.closest('.card').dataset.setting]]));"
        )
    )


def test_the_slider_shows_each_setting_with_the_figures_of_the_json(browser: Browser, page: Path) -> None:
    browser.open(page)
    points = sweep_plain()["points"]
    browser.ask("document.getElementById('dial').focus();")
    browser.press("Home", 36)
    for place, point in enumerate(points):
        found = shown_figures(browser)
        assert len(found) >= 8
        for measure, (value, text, setting) in found.items():
            told = point["measures"][measure]["mean"]
            assert (float(value), int(setting)) == (told, place)
            written, half = read_number(text)
            assert abs(written - told) <= half
        says = browser.ask("return document.getElementById('dial').getAttribute('aria-valuetext')")
        assert says.split(" ")[0] == f"{point['strength']:g}"
        assert browser.ask("return document.getElementById('dial-shown').textContent") == says
        marks = browser.ask(
            "return [...document.querySelectorAll('svg .only, svg .ghost, tr.at')].filter(item => "
            "item.classList.contains('on'))"
            ".map(item => item.dataset.setting)"
        )
        assert len(marks) > 15 and set(marks) == {str(place)}
        browser.press("ArrowRight", 39)


def test_marks_of_other_settings_are_hidden_in_charts(browser: Browser, page: Path) -> None:
    browser.open(page)
    seen = browser.ask(
        "return [...document.querySelectorAll('svg .only')].filter(item => getComputedStyle(item).visibility "
        "=== 'visible')"
        ".map(item => item.dataset.setting)"
    )
    assert seen and set(seen) == {"2"}
    faint = browser.ask(
        "return [...document.querySelectorAll('svg .ghost:not(.on)')].map(item => getComputedStyle(item).opacity)"
    )
    assert faint and all(0.0 < float(opacity) < 0.3 for opacity in faint)


def test_without_scripts_every_setting_is_shown(browser: Browser, page: Path) -> None:
    browser.open(page, script=False)
    seen = browser.ask(
        "return [...document.querySelectorAll('.card')].filter(item => item.checkVisibility()).map(item => "
        "item.dataset.setting)"
    )
    assert seen == ["0", "1", "2", "3", "4"]
    assert browser.ask("return document.querySelector('.dial').checkVisibility()") is False
    browser.open(page)
    assert (
        browser.ask("return [...document.querySelectorAll('.card')].filter(item => item.checkVisibility()).length") == 1
    )


def tied_record() -> Record:
    """The longest answer: ties of which one is fairer, and a take that has not settled."""
    return made(with_weeks(tied(0.01), (80.0, 90.0, 100.0, 110.0)), scenario(), ())


@pytest.mark.parametrize(("width", "height"), [(1400, 900), (360, 740)])
@pytest.mark.parametrize("kind", ["sweep", "run"])
def test_the_first_screen_holds_the_answer(
    browser: Browser, tmp_path: Path, kind: str, width: int, height: int
) -> None:  # fmt: skip
    file = tmp_path / f"{kind}.html"
    file.write_text(page_of(tied_record() if kind == "sweep" else run_record()).html, encoding="utf-8")
    browser.open(file, width=width)
    parts = (".answer .lead", ".answer .stake", ".answer .key > div:last-child", ".answer figure svg")
    ends = [browser.ask(f"return document.querySelector('{part}').getBoundingClientRect().bottom") for part in parts]
    assert all(0 < end <= height for end in ends), ends
    assert browser.ask("return document.querySelectorAll('.answer .key > div').length") == 5
    letters = browser.ask("return parseFloat(getComputedStyle(document.querySelector('.lead')).fontSize)")
    assert letters >= 15


def test_a_first_screen_that_is_too_long_would_be_seen(browser: Browser, page: Path) -> None:
    browser.open(altered(page, 'class="lead">', 'class="lead">' + "more words " * 60), width=360)
    assert browser.ask("return document.querySelector('.answer figure svg').getBoundingClientRect().bottom") > 740


def overhang(browser: Browser) -> int:
    return int(browser.ask("return document.documentElement.scrollWidth - window.innerWidth"))


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_runs_over_the_side(browser: Browser, page: Path, width: int) -> None:
    browser.open(page, width=width)
    browser.ask("document.querySelectorAll('details').forEach(item => { item.open = true; });")
    assert overhang(browser) <= 0


@pytest.mark.parametrize("kind", SHOWN)
def test_names_of_any_kind_break_nothing(browser: Browser, hostile: dict[str, Path], kind: str) -> None:
    browser.open(hostile[kind], width=360)
    browser.ask("document.querySelectorAll('details').forEach(item => { item.open = true; });")
    assert overhang(browser) <= 0
    assert browser.ask("return typeof window.broken") == "undefined"
    assert browser.heard() == ([], [])
    assert browser.ask("return document.querySelector('h1').textContent").replace("\u00a0", " ") == HOSTILE[kind]


def test_what_runs_over_would_be_seen(browser: Browser, page: Path) -> None:
    browser.open(altered(page, "</main>", '<div style="width: 900px">x</div></main>'), width=360)
    assert overhang(browser) > 0


@pytest.mark.parametrize("dark", [False, True])
def test_no_serious_fault_of_accessibility(browser: Browser, page: Path, dark: bool) -> None:
    browser.open(page, dark=dark)
    browser.ask("document.querySelectorAll('details').forEach(item => { item.open = true; });")
    assert browser.axe() == []


def test_no_serious_fault_on_a_phone_nor_with_hostile_names(browser: Browser, hostile: dict[str, Path]) -> None:
    browser.open(hostile["markup"], width=360)
    assert browser.axe() == []


def test_faults_of_accessibility_would_be_seen(browser: Browser, page: Path) -> None:
    browser.open(altered(page, "</main>", '<p style="color: #999; background: #aaa">pale</p><input></main>'))
    assert {"color-contrast", "label"} <= {item["id"] for item in browser.axe()}


# WCAG 2.2, success criteria 1.4.3 and 1.4.11: 4.5 to 1 for text, 3 to 1 for graphics; relative luminance as there.
_CONTRAST = """
const light = c => { const l = c.map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
                     return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; };
const rgb = text => (text.match(/[\\d.]+/g) || []).slice(0, 3).map(Number);
const paper = light(rgb(getComputedStyle(document.body).backgroundColor));
const ratio = c => { const l = light(rgb(c)); return (Math.max(l, paper) + 0.05) / (Math.min(l, paper) + 0.05); };
"""


@pytest.mark.parametrize("dark", [False, True])
def test_charts_stand_out_from_their_ground(browser: Browser, page: Path, dark: bool) -> None:
    browser.open(page, dark=dark)
    words = browser.ask(
        _CONTRAST + "return [...document.querySelectorAll('svg text')].map(item => ratio(getComputedStyle(item).fill))"
    )
    assert len(words) > 100 and min(words) >= 4.5
    lines = browser.ask(
        _CONTRAST + "return [...document.querySelectorAll('svg path')].map(item => getComputedStyle(item))"
        ".filter(style => style.stroke.startsWith('rgb') && parseFloat(style.strokeWidth) > 1.2).map(style => "
        "ratio(style.stroke))"
    )
    assert len(lines) > 20 and min(lines) >= 3.0


def test_pale_words_in_charts_would_be_seen(browser: Browser, page: Path) -> None:
    browser.open(altered(page, "--ink: #1d2226", "--ink: #c0c4c8"))
    words = browser.ask(
        _CONTRAST + "return [...document.querySelectorAll('svg text')].map(item => ratio(getComputedStyle(item).fill))"
    )
    assert min(words) < 4.5


@pytest.mark.parametrize("paper", list(PAPERS))
def test_no_chart_is_cut_in_print(browser: Browser, page: Path, paper: str) -> None:
    width, height = ((side - 2 * _MARGIN) / 25.4 * 96 for side in PAPERS[paper])
    browser.open(page, width=int(width), media="print", dark=True)
    boxes = browser.ask(
        "return [...document.querySelectorAll('figure')].map(item => { const whole = item.getBoundingClientRect(),"
        " chart = item.querySelector('svg').getBoundingClientRect();"
        " return [chart.left, chart.right, whole.height, getComputedStyle(item).breakInside, chart.width]; })"
    )
    assert len(boxes) >= 12
    for left, right, tall, breaks, wide in boxes:
        assert left >= -0.5 and right <= width + 0.5 and wide > 150
        assert tall <= height and breaks == "avoid"
    assert overhang(browser) <= 0
    ground = browser.ask("return getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"  # paper is white, whatever the screen was
    inches = [side / 25.4 for side in PAPERS[paper]]
    printed = browser.pdf(*inches)
    assert printed.startswith(b"%PDF") and len(re.findall(rb"/Type\s*/Page\b", printed)) >= 3


def test_a_chart_that_is_cut_would_be_seen(browser: Browser, page: Path) -> None:
    width = int((210 - 2 * _MARGIN) / 25.4 * 96)
    browser.open(
        altered(
            page,
            "@media print {",
            "@media print { figure svg { width: 1200px !important; max-width: none !important; }",
        ),
        width=width,
        media="print",
    )
    rights = browser.ask(
        "return [...document.querySelectorAll('figure svg')].map(item => item.getBoundingClientRect().right)"
    )
    assert max(rights) > width


def test_everything_is_in_reach_of_the_keyboard(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.press("Tab", 9)
    first = browser.ask("const it = document.activeElement; return [it.textContent, it.getBoundingClientRect().left]")
    assert first[0] == "Skip to the answer" and first[1] >= 0
    browser.press("Tab", 9)
    focus = browser.ask(
        "const style = getComputedStyle(document.activeElement); return [style.outlineStyle, "
        "parseFloat(style.outlineWidth)]"
    )
    assert focus[0] == "solid" and focus[1] >= 2
    reached = set()
    for _ in range(30):
        reached.add(browser.ask("return document.activeElement.tagName + (document.activeElement.type || '')"))
        browser.press("Tab", 9)
    assert {"A", "INPUTrange", "BUTTONbutton"} <= reached


def test_tables_and_scenario_are_saved_from_inside(browser: Browser, page: Path) -> None:
    record = sweep_record()
    for name, text in (("measures.csv", record.tables["measures"]), ("scenario.toml", record.loaded.to_toml())):
        browser.open(page)  # a browser asks before it saves a second file of one page
        browser.ask(f"document.querySelector('a[download=\"{name}\"]').click();")
        assert browser.downloaded(name).decode() == text
    assert browser.heard()[0] == []
