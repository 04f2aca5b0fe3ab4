"""The command that lists, shows and prunes what is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from .building import Shell

KEPT = ("--store", "kept.sqlite")


def test_list_show_and_prune(shell: Shell) -> None:
    assert shell("run", "small.toml", "--workers", "1", *KEPT).code == 0
    assert shell("sweep", "small.toml", "--strengths", "0,1", "--workers", "1", *KEPT).code == 0
    listed = shell("studies", *KEPT, "--json").json
    assert [(item["kind"], item["settings"], item["replications"], item["current"]) for item in listed["studies"]] == [
        ("sweep", 2, 4, True),
        ("run", 1, 2, True),
    ]
    text = shell("studies", *KEPT).out
    assert "sweep" in text and "The Kiosk" in text and "4/4" in text and "other version" not in text
    shown = shell("studies", "2", *KEPT)
    assert "study 2: sweep of small.toml, The Kiosk" in shown.out and "strength 1" in shown.out
    points = shell("studies", "2", *KEPT, "--json").json["points"]
    fresh = shell("sweep", "small.toml", "--strengths", "0,1", "--workers", "1", "--json", "--no-store").json["points"]
    both = [[item["measures"]["credits_per_hour"]["mean"] for item in found] for found in (points, fresh)]
    assert both[0] == both[1]
    assert shell("studies", "2", "--prune", *KEPT).out == (
        "forgot 1 study and 2 replications that no other study holds\n"
    )
    assert shell("studies", "--prune", "--older-than", "1", *KEPT).out.startswith("forgot 0 studies and 0 ")
    assert shell("studies", "--prune", "--all", *KEPT, "--json").json["forgotten"] == [1]
    assert shell("studies", *KEPT).out == "kept.sqlite: nothing is kept\n"


def test_a_store_of_ones_own(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("VENUE_STORE")
    monkeypatch.setattr("click.get_app_dir", lambda name: str(shell.folder / "home" / name))
    assert shell("studies").out == "home/venue/replications.sqlite: nothing is kept yet\n".replace(
        "home", str(shell.folder / "home")
    )
    assert shell("run", "small.toml", "--workers", "1", "--no-store").code == 0
    assert not (shell.folder / "home" / "venue" / "replications.sqlite").exists()
    assert shell("run", "small.toml", "--workers", "1").code == 0
    assert len(shell("studies", "--json").json["studies"]) == 1


def test_a_home_that_cannot_be_written_costs_the_keeping_not_the_study(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VENUE_STORE")
    (shell.folder / "file").write_text("x")
    monkeypatch.setattr("click.get_app_dir", lambda name: str(shell.folder / "file" / name))
    outcome = shell("run", "small.toml", "--workers", "1", "--json")
    assert outcome.code == 0 and outcome.json["replications"] == 2
    assert outcome.err.endswith("replications.sqlite cannot be written, so nothing is kept; name a --store\n")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--prune",), "--prune: forget which? Name a number, --older-than DAYS, --other-versions or --all"),
        (("--all",), "--older-than, --other-versions and --all choose what to forget; add --prune"),
        (("--store", "nowhere.sqlite"), "--store nowhere.sqlite: no such file"),
        (("--store", "small.toml"), "--store small.toml: is not a store of replications; name another file"),
        (("--store", "."), "--store .: is a folder, must be a file"),
        (("x",), '"x" must be a whole number'),
    ],
)
def test_what_is_refused(shell: Shell, words: tuple[str, ...], told: str) -> None:
    assert told in shell.refused("studies", *words)


def test_a_study_that_is_not_there(shell: Shell) -> None:
    assert shell("run", "small.toml", "--workers", "1", *KEPT).code == 0
    outcome = shell("studies", "9", *KEPT)
    assert (outcome.code, outcome.err) == (2, "venue: venue studies 9: is not kept in kept.sqlite; known: 1\n")
    assert Path("kept.sqlite").exists()
