"""The commented scenario that `venue new` writes."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from venue.errors import InputError


def starter_text() -> str:
    """The starter scenario as TOML."""
    return resources.files("venue.scenario").joinpath("starter.toml").read_text(encoding="utf-8")


def write_starter(path: str | Path) -> None:
    """Write the starter scenario to a new file; an existing one is never touched."""
    target = Path(path)
    try:
        with target.open("x", encoding="utf-8") as file:
            try:
                file.write(starter_text())
                file.flush()
            except OSError:
                target.unlink()  # half a scenario is none
                raise
    except FileExistsError:
        raise InputError(f"{path}: already exists and is left as it is; name a new file") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror}); name a place you may write to") from None
