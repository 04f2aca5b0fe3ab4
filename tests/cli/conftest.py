"""The shell that tests of the command use."""

from __future__ import annotations

from pathlib import Path

import pytest

from .building import Shell


@pytest.fixture
def shell(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Shell:
    """Commands run in this process, in a new folder that holds `small.toml`; no terminal in sight."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    return Shell(tmp_path, capsys)
