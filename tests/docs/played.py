"""A document played from top to bottom in a folder of its own, as a reader would who types every command."""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from venue.cli.main import main

from .blocks import ROOT, Block, blocks_of, is_setup
from .selected import selected


@dataclass(frozen=True)
class Fresh:
    """A block and what its document ought to show in its place: a text, or a picture."""

    block: Block
    text: str = ""
    picture: Path | None = None


@dataclass(frozen=True)
class _Printed:
    out: str
    err: str
    code: int


def played(document: Path, *, long: bool, workers: int | None = None) -> Iterator[Fresh]:
    """Every block that shows something, beside what it ought to show.

    Parameters
    ----------
    long
        Whether everything is run; else only commands that are marked as quick, and Python that is not marked as long.
    workers
        Processes to simulate with, where a command does not say; all cores if left out.

    Raises
    ------
    RuntimeError
        If a command does not end as its document says.
    """
    with _folder(workers):
        found = list(blocks_of(document))
        printed: _Printed | None = None
        for block, after in zip(found, [*found, None][1:], strict=True):
            run = long or block.is_quick
            if block.language in ("sh", "python"):
                refused = after is not None and after.follows and "refused" in after.notes
                printed = _checked(document, _run(block), 2 if refused else 0) if run else None
            elif "into" in block.notes:
                _lay_into(Path(block.notes["into"]), block.text)
            elif "drawn by" in block.notes:
                drawn = Path(block.notes["drawn by"])
                if long or drawn.exists():
                    yield Fresh(block, picture=drawn.absolute())
            elif block.language == "text":
                if "printed by" in block.notes:
                    printed = _checked(document, _command(block.notes["printed by"]), 0) if run else None
                elif not block.follows:
                    printed = None
                if printed is not None:
                    yield Fresh(block, selected(printed.err if "refused" in block.notes else printed.out, block))


def _checked(document: Path, printed: _Printed, wanted: int) -> _Printed:
    if printed.code != wanted:
        raise RuntimeError(f"{document.name}: exit {printed.code} instead of {wanted}\n{printed.out}{printed.err}")
    return printed


def _run(block: Block) -> _Printed:
    if block.language == "python":
        return _python(block.text)
    printed = [_command(line) for line in block.commands() if not is_setup(line)]
    return _Printed("".join(item.out for item in printed), "".join(item.err for item in printed),
                    max((item.code for item in printed), default=0))  # fmt: skip


def _command(line: str) -> _Printed:
    line, _, file = line.partition(" > ")
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(shlex.split(line)[1:])
            code: object = 0
        except SystemExit as stop:
            code = stop.code
    if file:
        Path(file.strip()).write_text(out.getvalue(), encoding="utf-8")
    return _Printed("" if file else out.getvalue(), err.getvalue(), code if isinstance(code, int) else 1)


def _python(text: str) -> _Printed:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(text, "document", "exec"), {"__name__": "document"})
    return _Printed(out.getvalue(), "", 0)


@contextlib.contextmanager
def _folder(workers: int | None) -> Iterator[None]:
    """A new folder with the demo scenarios, as in a clone; nothing is kept between runs unless a page says so."""
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        shutil.copytree(ROOT / "scenarios", folder / "scenarios")
        stack.enter_context(contextlib.chdir(folder))
        stack.enter_context(mock.patch.dict(os.environ, {"VENUE_STORE": "", "COLUMNS": "100"}))
        if workers is not None:
            stack.enter_context(mock.patch("venue.study.workers.all_cores", lambda: workers))
        yield


def _lay_into(file: Path, text: str) -> None:
    """Put tables in place of those of the same names in a file; new ones at its end."""
    tables = _tables(file.read_text(encoding="utf-8"))
    for heading, table in _tables(text).items():
        tables[heading] = table.rstrip("\n") + "\n\n"
    file.write_text("".join(tables.values()), encoding="utf-8")


def _tables(text: str) -> dict[str, str]:
    """A TOML file taken apart at its headings; what stands before the first has none."""
    found, heading = {"": ""}, ""
    for line in text.splitlines(keepends=True):
        if line.startswith("["):
            heading = line.partition("#")[0].strip()
            found[heading] = ""
        found[heading] += line
    return found
