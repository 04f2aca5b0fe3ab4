"""What the documents say is so: commands run, Python runs, links lead somewhere, the reference is the program's own."""

from __future__ import annotations

import contextlib
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from venue.cli.main import cli
from venue.units import WEEKDAYS

from .blocks import DOCUMENTS, PICTURE, ROOT, blocks_of, commands, is_setup
from .differences import differences
from .played import played
from .reference import pages
from .scenario_page import sections, told


def _name(document: Path) -> str:
    return str(document.relative_to(ROOT))


def _has_quick_parts(document: Path) -> bool:
    return any(block.is_quick for block in blocks_of(document))


def _written(folder: Path, page: str) -> Path:
    document = folder / "page.md"
    document.write_text(page, encoding="utf-8")
    return document


@pytest.fixture
def workplace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that holds the demo scenarios, as a clone does."""
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("document", DOCUMENTS, ids=_name)
def test_commands_of_a_document_are_understood(document: Path, workplace: Path) -> None:
    """Every command of a document exists with its options, and the values given to them are of the right form."""
    for command in commands(document):
        name, *words = shlex.split(command.partition(" > ")[0])[1:] or [""]
        if not is_setup(command) and name:
            cli.commands[name].make_context(name, words, resilient_parsing=False)


@pytest.mark.parametrize(
    "document",
    [
        pytest.param(path, marks=pytest.mark.slow) if path.name == "studies.md" else path
        for path in DOCUMENTS
        if _has_quick_parts(path)
    ],
    ids=_name,
)
def test_what_a_document_shows_comes_out(document: Path) -> None:
    """Python and the commands marked as quick run, and what stands below them is what they print."""
    assert differences(document, long=False, workers=1) == []


@pytest.mark.slow
@pytest.mark.parametrize("document", DOCUMENTS, ids=_name)
def test_all_that_a_document_shows_comes_out(document: Path) -> None:
    """Every command runs as it stands, and every output and picture is what comes of it."""
    assert differences(document, long=True) == []


def test_an_output_that_has_drifted_is_found(tmp_path: Path) -> None:
    """The twin: a figure, a word or a picture that is not what the commands leave."""
    page = (
        "<!-- quick -->\n```sh\nvenue new a.toml\nvenue check a.toml\n```\n\n"
        "<!-- parts: sound | credit costs -->\n```text\n{}```\n"
    )
    right = played(_written(tmp_path, page.format("")), long=False)
    with contextlib.closing(right):
        text = next(right).text
    assert text.startswith("a.toml: sound\n\n…\n\nThe Landing: every day 11:00")
    assert differences(_written(tmp_path, page.format(text)), long=False) == []
    assert len(differences(_written(tmp_path, page.format(text.replace("0.5", "0.6"))), long=False)) == 1


@pytest.mark.parametrize(
    "page",
    [
        "```sh\nvenue check nowhere.toml\n```\n",  # ends with 2 and does not say so
        "```sh\nvenue new a.toml\n```\n\n<!-- refused -->\n```text\n```\n",  # does not end with 2 and says so
        "```sh\nvenue --version\n```\n\n<!-- parts: sea -->\n```text\n```\n",  # no such part
    ],
)
def test_a_command_that_does_not_end_as_told_is_found(tmp_path: Path, page: str) -> None:
    with pytest.raises(RuntimeError):
        list(played(_written(tmp_path, page), long=True))


def test_python_that_takes_long_is_left_to_the_slow_checks(tmp_path: Path) -> None:
    page = "```python\nprint(1)\n```\n\n```text\n```\n\n<!-- long -->\n```python\nprint(2)\n```\n\n```text\n```\n"
    document = _written(tmp_path, page)
    assert [item.text for item in played(document, long=False)] == ["1\n"]
    assert [item.text for item in played(document, long=True)] == ["1\n", "2\n"]


@pytest.mark.parametrize("page", ["<!-- quik -->\n```sh\n```\n", "<!-- quick -->\n\nwords\n\n```sh\n```\n"])
def test_a_note_that_is_none_is_found(tmp_path: Path, page: str) -> None:
    with pytest.raises(ValueError, match="note"):
        list(blocks_of(_written(tmp_path, page)))


def test_tables_laid_into_a_file_take_the_place_of_their_own(tmp_path: Path) -> None:
    page = (
        "```sh\nvenue new a.toml\n```\n\n<!-- into: a.toml -->\n"
        '```toml\n[machines.gulls]   # a row more\ncount = 7\nprice = 1\nplay_time = "60 s"\n\n'
        '[machines.crabs]\nprice = 1\nplay_time = "30 s"\n```\n\n'
        "```sh\nvenue check a.toml\n```\n\n<!-- parts: how many -->\n<!-- rows: gulls | crabs -->\n```text\n```\n"
    )
    shown = [item.text for item in played(_written(tmp_path, page), long=True)]
    assert len(shown) == 1
    lines = [line.split() for line in shown[0].split("\n") if line]
    assert [line[0] for line in lines if not line[0].startswith("-")] == ["…", "machines", "…", "gulls", "crabs", "…"]
    assert next(line for line in lines if line[0] == "gulls")[-4:] == ["7", "1", "-", "1"]


def test_every_picture_is_shown_and_of_moderate_size() -> None:
    shown = {
        (document.parent / block.text).resolve()
        for document in DOCUMENTS
        for block in blocks_of(document)
        if block.language == PICTURE and "drawn by" in block.notes
    }
    there = set((ROOT / "docs" / "pictures").iterdir())
    assert shown == there
    assert all(path.suffix == ".png" and path.stat().st_size < 200_000 for path in there)


@pytest.mark.slow
def test_the_first_command_of_the_readme_works_in_an_empty_clone(tmp_path: Path) -> None:
    setup = [command for command in commands(ROOT / "README.md") if command.startswith("python3 -m venv")]
    assert len(setup) == 2, "the README shows two commands that do all the set-up"
    subprocess.run(["git", "clone", "-q", str(ROOT), str(tmp_path / "venue")], check=True)
    result = subprocess.run(
        ["bash", "-c", setup[0]], cwd=tmp_path / "venue", capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.startswith("Recommended: ") and "Caution: " in result.stdout


def test_ci_runs_the_test_command_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script and "python3 -m venv" in script


@pytest.mark.parametrize(("page", "text"), pages().items(), ids=lambda item: getattr(item, "name", ""))
def test_the_reference_is_the_programs_own(page: Path, text: str) -> None:
    assert page.read_text(encoding="utf-8") == text, "run `python -m tests.docs.reference`"


def test_every_key_of_a_scenario_says_what_it_is() -> None:
    """In the reference, and so in editors; the days of a week need no words."""
    keys = [
        (section.heading, name, field) for section in sections() for name, field in section.part.model_fields.items()
    ]
    silent = [(where, name) for where, name, field in keys if not told(field) and name not in ("kind", *WEEKDAYS)]
    assert len(keys) > 150 and silent == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=_name)
def test_links_lead_to_files(document: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", document.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (document.parent / target).exists(), f"{document.name} links to {target}"
