"""One fault at a time in a copy of the tree, and the tests that run its line, in a child of a warm process."""

from __future__ import annotations

import compileall
import importlib
import os
import py_compile
import resource
import shutil
import signal
import sys
import time
from pathlib import Path

import pytest

from .lines import Lines
from .mutants import Mutant

# Imported once, before any child is forked; venue and its tests are imported by each child, from the copy.
HEAVY = (
    "numpy",
    "pandas",
    "scipy.stats",
    "scipy.special",
    "scipy.optimize",
    "scipy.sparse.linalg",
    "scipy.interpolate",
    "pydantic",
    "simpy",
    "SALib.sample.sobol",
    "hypothesis.strategies",
    "hypothesis.extra.numpy",
    "ciw",
    "lifelines",
    "statsmodels.api",
    "matplotlib.pyplot",
    "jinja2",
    "click",
)
MEMORY = 4 * 2**30
PYTEST = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=", "--no-header", "--tb=no"]
# Plugins are imported before pytest can rewrite their assertions; that changes no result.
PYTEST += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
CHOICE = ["-m", "not slow and not benchmark"]
KILLED, SURVIVED, TIMED_OUT, NOT_RUN = "killed", "survived", "timed out", "not run by a test"


def warm() -> None:
    """Import the libraries; threads in linear algebra would not survive a fork."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("MPLBACKEND", "agg")
    for name in HEAVY:
        importlib.import_module(name)


def copied(root: Path, target: Path) -> Path:
    """A copy of the tree, compiled in a way that sees a changed file by its text."""
    for name in ("venue", "tests", "scenarios", "docs", ".ci"):
        if (root / name).is_dir():
            skipped = shutil.ignore_patterns("__pycache__", "node", "node_modules", "v")
            shutil.copytree(root / name, target / name, ignore=skipped)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(root / name, target / name)
    mode = py_compile.PycInvalidationMode.CHECKED_HASH
    compileall.compile_dir(target / "venue", quiet=2, invalidation_mode=mode)
    return target


def _child(tree: Path, tests: list[str]) -> int:
    os.setsid()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    quiet = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(quiet, number)
    os.chdir(tree)
    for name in [name for name in sys.modules if name.partition(".")[0] in ("venue", "tests")]:
        del sys.modules[name]
    sys.path[:] = [str(tree), *(item for item in sys.path if item not in ("", str(Path.cwd())))]
    os.environ["PYTHONPATH"] = str(tree)
    return int(pytest.main([*PYTEST, *CHOICE, f"--rootdir={tree}", *tests]))


def passes(tree: Path, tests: list[str], limit: float) -> bool | None:
    """Whether the tests pass in the copy as it is; None where time ran out."""
    process = os.fork()
    if process == 0:
        code = 3
        try:
            code = _child(tree, tests)
        finally:
            os._exit(code)
    end = time.monotonic() + limit
    while time.monotonic() < end:
        done, status = os.waitpid(process, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            # Failed, not imported, or not collected; by a signal where memory ran out. Anything else is a fault here.
            if code > 0 and code not in (1, 2, 4):
                raise RuntimeError(f"pytest ended with {code}: {' '.join(tests[:3])}")
            return code == 0
        time.sleep(0.02)
    for victim in (lambda: os.killpg(process, signal.SIGKILL), lambda: os.kill(process, signal.SIGKILL)):
        try:
            victim()
            break
        except ProcessLookupError:
            continue
    os.waitpid(process, 0)
    return None


def fate(tree: Path, one: Mutant, lines: Lines, most_seconds: float) -> str:
    """What the tests make of a fault: those that run the line, then their neighbours in the same files."""
    near = lines.tests_of(one.path, one.line, one.last_line)
    if not near:
        return NOT_RUN
    path = tree / one.path
    source = path.read_bytes()
    path.write_bytes(one.apply(source))
    try:
        for tests in (near, lines.neighbours(near)):
            taken, within = 0.0, []
            for test in tests:
                taken += lines.seconds[test]
                if within and taken > most_seconds:
                    break
                within.append(test)
            if not within:
                continue
            found = passes(tree, within, 30.0 + 5.0 * min(taken, most_seconds))
            if found is None:
                return TIMED_OUT
            if not found:
                return KILLED
        return SURVIVED
    finally:
        path.write_bytes(source)
