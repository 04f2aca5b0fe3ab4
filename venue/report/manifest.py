"""The manifest of a folder of results: every file that was written together, with its size and digest.

A folder can be copied, added to and written over. What the manifest does not name, or what has changed since, is not of
these results, and no page may be made from it.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from venue.errors import Fault

MANIFEST = "manifest.json"
_LARGEST = 1 << 20
_AGAIN = "run the command again with --out"


class Listed(BaseModel):
    """One file: its size in bytes and the digest of what it holds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    size: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class Manifest(BaseModel):
    """What was written together, by file name."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    files: Annotated[dict[Annotated[str, Field(pattern=r"^[^/\\\x00]+$")], Listed], Field(max_length=10_000)]

    @classmethod
    def of(cls, folder: Path, but: str) -> Manifest:
        """The manifest of all files in a folder but one."""
        return cls(files={file.name: _listed(file) for file in sorted(folder.iterdir()) if file.name != but})

    @classmethod
    def read(cls, folder: Path) -> Manifest:
        """The manifest that stands in a folder.

        Raises
        ------
        Fault
            If there is none, or it is none that this version writes.
        OSError
            If it cannot be read.
        """
        try:
            found = cls.model_validate_json(plain_file(folder / MANIFEST, _LARGEST))
        except FileNotFoundError:
            raise Fault(f"has no {MANIFEST}, which tells what was written together", _AGAIN) from None
        except ValidationError:
            raise Fault(f"{MANIFEST} in it is damaged, or of another version", _AGAIN) from None
        return found

    def write(self, folder: Path) -> None:
        """Write it into a folder."""
        (folder / MANIFEST).write_text(self.model_dump_json(indent=1) + "\n", encoding="utf-8")

    def content(self, folder: Path, name: str, most: int) -> bytes:
        """What a listed file holds, as it was written.

        Raises
        ------
        Fault
            If it is not listed, not there, larger than `most` bytes, or not what was written.
        """
        if name not in self.files:
            raise Fault(f"{name} is not of these results", _AGAIN)
        try:
            found = plain_file(folder / name, most)
        except FileNotFoundError:
            raise Fault(f"{name} is not there any more", _AGAIN) from None
        except OSError as error:
            raise Fault(f"{name} cannot be read ({error.strerror})", _AGAIN) from None
        if len(found) != self.files[name].size or hashlib.sha256(found).hexdigest() != self.files[name].sha256:
            raise Fault(f"{name} was changed after it was written", _AGAIN)
        return found

    def strangers(self, folder: Path) -> Iterator[str]:
        """What stands in a folder and was not written with these results, but for pages and their charts."""
        for item in sorted(folder.iterdir()):
            if item.name not in self.files and item.name != MANIFEST and not _of_a_page(item):
                yield item.name


def _of_a_page(item: Path) -> bool:
    return item.suffix in (".html", ".htm") or (item.name.endswith("-charts") and item.is_dir())


def _listed(file: Path) -> Listed:
    with file.open("rb") as content:
        return Listed(size=file.stat().st_size, sha256=hashlib.file_digest(content, "sha256").hexdigest())


def plain_file(path: Path, most: int) -> bytes:
    """What a file holds that is one: a link leads elsewhere, and a pipe never ends.

    Raises
    ------
    Fault
        If it is a link, a pipe, a folder or a device, or larger than `most` bytes.
    OSError
        If it cannot be read.
    """
    if path.is_symlink():
        raise Fault(f"{path.name} is a link", "put the file itself there")
    opened = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    with os.fdopen(opened, "rb") as file:
        if not stat.S_ISREG(os.fstat(opened).st_mode):
            raise Fault(f"{path.name} is no plain file", "put a file there")
        found = file.read(most + 1)
    if len(found) > most:
        raise Fault(f"{path.name} is larger than {most} bytes", "look at it in the folder")
    return found
