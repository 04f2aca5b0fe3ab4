"""A command in a process of its own, with bounds on time and memory, and what may be said of how it ended."""

from __future__ import annotations

import os
import resource
import signal
import sys
from collections.abc import Sequence
from pathlib import Path

from venue.cli.main import main

LONGEST, LARGEST = 60, 2 << 30
# Done; a run that failed; bad input; Ctrl-C; ended from outside.
CODES = frozenset({0, 1, 2, 130, 143})


def judged(words: Sequence[str], folder: Path) -> tuple[int, str]:
    """Exit code and stderr of `venue WORDS` in a folder: no traceback, no leak of memory, no hang.

    A copy of this process runs it, so that nothing is loaded anew.

    Raises
    ------
    AssertionError
        If it ended as no command may.
    """
    errors = folder / ".stderr"
    child = os.fork()
    if child == 0:
        _become(words, folder, errors)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    said = errors.read_text(encoding="utf-8", errors="backslashreplace")
    errors.unlink()
    assert code in CODES, (words, code, said[-2000:])
    assert "Traceback" not in said and "Error:" not in said, (words, said[-2000:])
    return code, said


def _become(words: Sequence[str], folder: Path, errors: Path) -> None:
    """Turn this copy of the process into the command; never returns."""
    code = 99
    try:
        os.chdir(folder)
        resource.setrlimit(resource.RLIMIT_AS, (LARGEST + _now_mapped(), LARGEST + _now_mapped()))
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(LONGEST)
        os.dup2(os.open(os.devnull, os.O_RDWR), 0)
        os.dup2(os.open(os.devnull, os.O_RDWR), 1)
        os.dup2(os.open(errors, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), 2)
        sys.stdin, sys.stdout, sys.stderr = open(0), open(1, "w"), open(2, "w")  # noqa: SIM115, PTH123
        os.environ["VENUE_STORE"] = ""
        try:
            main(list(words))
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else 99
        except BaseException:
            import traceback

            traceback.print_exc()
        sys.stderr.flush()
    finally:
        os._exit(code)


def _now_mapped() -> int:
    """Bytes of address space in use already, which the command did not ask for."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
