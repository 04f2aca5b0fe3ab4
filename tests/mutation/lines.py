"""Which tests run which lines, and how long they take: a plugin for one run of the suite, and what it wrote.

Coverage with a context a test: lines run while a module is imported belong to no test.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Generator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import coverage
import pytest

TARGET = "VENUE_MUTATION_LINES"
FOLDERS = ["venue/contest", "venue/visitors", "venue/floor", "venue/study"]


@dataclass
class Lines:
    """Tests by path and line; seconds by test, of those that passed."""

    tests: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]
    imported: dict[str, set[int]] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> Lines:
        raw = json.loads(path.read_text(encoding="utf-8"))
        names = raw["names"]
        tests = {
            file: {int(line): [names[one] for one in found] for line, found in lines.items()}
            for file, lines in raw["tests"].items()
        }
        return cls(tests, raw["seconds"], {file: set(lines) for file, lines in raw["imported"].items()})

    def tests_of(self, path: str, first: int, last: int) -> list[str]:
        """Tests that run one of these lines, fastest first; those of the whole file for what an import runs."""
        by_line = self.tests.get(path, {})
        found = {test for line in range(first, last + 1) for test in by_line.get(line, ())}
        if not found and any(line in self.imported.get(path, ()) for line in range(first, last + 1)):
            found = {test for tests in by_line.values() for test in tests}
        return sorted(found & self.seconds.keys(), key=lambda test: (self.seconds[test], test))

    def neighbours(self, tests: list[str]) -> list[str]:
        """Other tests of the same files: they may share what the first of them has computed and kept."""
        files = {test.partition("::")[0] for test in tests}
        found = {test for test in self.seconds if test.partition("::")[0] in files} - set(tests)
        return sorted(found, key=lambda test: (self.seconds[test], test))


class Collecting:
    """The plugin."""

    def __init__(self, target: Path) -> None:
        self.target = target
        self.measured = coverage.Coverage(
            data_file=None, source=FOLDERS, config_file=False, messages=False, branch=False
        )
        self.seconds: dict[str, float] = defaultdict(float)
        self.failed: set[str] = set()
        self.measured.start()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, Any, None]:
        self.measured.switch_context(item.nodeid)
        yield
        self.measured.switch_context("")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.seconds[report.nodeid] += report.duration
        if not report.passed:
            self.failed.add(report.nodeid)

    def pytest_unconfigure(self) -> None:
        self.measured.stop()
        data = self.measured.get_data()
        names = sorted(data.measured_contexts())
        place = {name: number for number, name in enumerate(names)}
        tests: dict[str, dict[int, list[int]]] = {}
        imported: dict[str, list[int]] = {}
        for file in sorted(data.measured_files()):
            path = Path(file).relative_to(Path.cwd()).as_posix()
            by_line = data.contexts_by_lineno(file)
            tests[path] = {line: [place[name] for name in found if name] for line, found in by_line.items()}
            imported[path] = [line for line, found in by_line.items() if "" in found]
        seconds = {test: taken for test, taken in self.seconds.items() if test not in self.failed}
        raw = {"names": names, "tests": tests, "seconds": seconds, "imported": imported}
        self.target.write_text(json.dumps(raw), encoding="utf-8")


if TARGET in os.environ:
    collecting = Collecting(Path(os.environ[TARGET]))

    def pytest_configure(config: pytest.Config) -> None:
        config.pluginmanager.register(collecting)
