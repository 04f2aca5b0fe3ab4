"""Files that are no scenarios: missing, a folder, binary, not TOML. One line each, never a traceback."""

from __future__ import annotations

import pickle
import re
import tomllib
from pathlib import Path

import pytest

from venue.errors import InputError, ScenarioError
from venue.scenario.load import check, load
from venue.scenario.starter import starter_text, write_starter

from .building import FOLDER, assert_lines


def line(path: Path) -> str:
    with pytest.raises(ScenarioError) as caught:
        load(path)
    assert_lines(caught.value, str(path))
    return str(caught.value).removeprefix(f"{path}: ")


def written(folder: Path, content: str | bytes) -> Path:
    path = folder / "x.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert line(tmp_path / "none.toml") == "file: no such file; write one with `venue new FILE`"
    written(tmp_path, "")
    assert line(tmp_path / "xx.toml") == f"file: no such file; did you mean {tmp_path / 'x.toml'}?"
    assert line(tmp_path / "no" / "x.toml") == "file: no such file; write one with `venue new FILE`"


def test_a_folder(tmp_path: Path) -> None:
    assert line(tmp_path) == "file: is a folder, must be a TOML file; name a file in it"


def test_a_place_below_a_file(tmp_path: Path) -> None:
    assert line(written(tmp_path, "") / "y.toml") == "file: cannot be read (Not a directory); name a TOML file"


def test_a_name_that_no_file_can_have(tmp_path: Path) -> None:
    assert line(tmp_path / ("x" * 5000)) == "file: cannot be read (File name too long); name a TOML file"
    with pytest.raises(ScenarioError, match="cannot be read"):
        load("a\0b")


def test_an_empty_file(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        load(written(tmp_path, ""))
    assert [problem.path for problem in caught.value.problems] == ["venue", "machines"]


@pytest.mark.parametrize(
    "content", [b"\x89PNG\r\n\x1a\n\xff\xfe", "a = 'ü'".encode("latin-1"), "a = 1".encode("utf-16")]
)
def test_a_binary_file(tmp_path: Path, content: bytes) -> None:
    assert line(written(tmp_path, content)) == "file: is not UTF-8 text; name a TOML file, or save it as UTF-8"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("[venue]\nperiod_length = 45 s\n",
         "file: not TOML: Expected newline or end of document after a statement (at line 2, column 20); "
         "mend `period_length = 45 s`; text goes in quotes"),
        ("[titles.tug]\n[titles.tug]\n",
     "file: not TOML: Cannot declare titles.tug twice (at line 2, column 12); mend `[titles.tug]`; "
     "text goes in quotes"),
        ("a = 1\na = 2\n",
         "file: not TOML: Cannot overwrite a value (at line 2, column 6); mend `a = 2`; "
         "text goes in quotes"),
        ("a = [1,\n",
         "file: not TOML: Invalid value (at end of document); mend the end of the file; text, durations and times go "
         "in quotes"),
        ("\x00",
         "file: not TOML: Invalid statement (at line 1, column 1); mend `\\x00`; text goes in quotes"),
        ("a" * 4000 + " 1", None),
        ("a = " + "[" * 5000, "file: not TOML for a scenario: it nests without end; take the inner brackets out"),
        ("a = " + "9" * 5000, None),
        ("a = 2024-13-45\n", None),
        ("{}", None),
        ('{"venue": {"name": "x"}}', None),
    ],
)  # fmt: skip
def test_a_text_that_is_not_toml(tmp_path: Path, text: str, expected: str | None) -> None:
    found = line(written(tmp_path, text))
    assert found.startswith("file: not TOML")
    assert expected is None or found == expected


def test_keys_in_keys_without_end(tmp_path: Path) -> None:
    assert "without end" in line(written(tmp_path, "a." * 3000 + "a = 1"))
    assert "without end" in line(written(tmp_path, starter_text() + "\n[people.skill." + "a." * 3000 + "a]\nb = 1"))


def test_a_number_too_long_to_be_read_in_decimal(tmp_path: Path) -> None:
    text = starter_text().replace("days = 42", "days = 0x" + "f" * 20_000)
    assert "study.days = a number of 24083 digits: must lie between 1 and 36500" in line(written(tmp_path, text))


def test_a_mark_of_the_encoding_at_the_start_is_no_mistake(tmp_path: Path) -> None:
    assert (
        load(written(tmp_path, "\ufeff" + starter_text())).scenario == load(written(tmp_path, starter_text())).scenario
    )


def test_line_ends_of_another_system_are_no_mistake(tmp_path: Path) -> None:
    plain = load(FOLDER / "pier.toml").scenario
    text = (FOLDER / "pier.toml").read_text(encoding="utf-8").replace("\n", "\r\n")
    assert load(written(tmp_path, text)).scenario.titles == plain.titles


def test_an_error_travels_between_processes(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        load(tmp_path / "none.toml")
    copy = pickle.loads(pickle.dumps(caught.value))
    assert str(copy) == str(caught.value) and copy.problems == caught.value.problems
    assert copy.exit_code == 2


def test_the_starter_is_sound_and_says_what_it_leaves_out(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    write_starter(path)
    loaded = load(path)
    assert path.read_text(encoding="utf-8") == starter_text()
    assert loaded.scenario.titles and loaded.scenario.machines


def test_the_starter_is_never_written_over_anything(tmp_path: Path) -> None:
    path = written(tmp_path, "mine")
    with pytest.raises(InputError, match="x.toml: already exists and is left as it is; name a new file"):
        write_starter(path)
    assert path.read_text() == "mine"
    with pytest.raises(InputError, match=r"cannot be written \(No such file or directory\)"):
        write_starter(tmp_path / "no" / "x.toml")
    with pytest.raises(InputError):
        write_starter(tmp_path)


def test_what_the_starter_suggests_in_comments_is_sound() -> None:
    text = re.sub(r"^# (?=\[|bundles|spend_per_visit|mean_use)", "", starter_text(), flags=re.MULTILINE)
    found = check(tomllib.loads(text), "starter").scenario
    assert found.limits.spend_per_visit and found.venue.till.bundles and found.machines["ferry"].faults.fails
