"""What a shell is offered, in the words that the shell's own script sends and reads (click's protocol)."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

import pytest

from .building import Shell, process


def offered(shell: Shell, *words: str, **more: str) -> list[str]:
    """What bash is offered for the last of these words."""
    line = shlex.join(["venue", *words]) if words[-1] else shlex.join(["venue", *words[:-1]]) + " "
    outcome = process(
        folder=shell.folder, _VENUE_COMPLETE="bash_complete", COMP_WORDS=line, COMP_CWORD=str(len(words)), **more
    )
    assert (outcome.code, outcome.err) == (0, "")
    return outcome.out.split()


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["sw"], ["plain,sweep"]),
        (["run", "sm"], ["file,sm"]),
        (["run", "small.toml", "--repl"], ["plain,--replications"]),
        (["run", "small.toml", "--out", "o"], ["dir,o"]),
        (["contest", "small.toml", "--title", ""], ["plain,reeds"]),
        (["contest", "nowhere.toml", "--title", ""], []),
        (["sensitivity", "small.toml", "--measure", "return"], ["plain,return_28d"]),
    ],
)
def test_words_are_completed(shell: Shell, words: Sequence[str], found: list[str]) -> None:
    assert offered(shell, *words) == found


@pytest.mark.parametrize("name", ["bash", "zsh", "fish"])
def test_the_script_for_each_shell_that_the_documents_name(shell: Shell, name: str) -> None:
    outcome = process(folder=shell.folder, _VENUE_COMPLETE=f"{name}_source")
    assert outcome.code == 0 and "venue" in outcome.out and f"{name}_complete" in outcome.out
