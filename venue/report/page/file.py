"""The page as a file, and its charts as files next to it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from venue.errors import InputError, RunError
from venue.report.drawing import save_as
from venue.report.page.document import GENERATOR, Page, page_of
from venue.report.page.record import Record

KINDS = ("svg", "png", "pdf")
_HEAD = 2000


class ReportFile:
    """A place for a page, looked at before anything is run.

    Parameters
    ----------
    path
        The file. A page that venue wrote there before is replaced, anything else only if `force` says so.
    option
        What the user called it, for messages.

    Raises
    ------
    InputError
        If the place cannot be used.
    """

    def __init__(self, path: str | Path, *, option: str = "--out", force: bool = False) -> None:
        self.path, self._option = Path(path), option
        try:
            self._check(force)
        except OSError as error:
            raise InputError(f"{option} {path}: cannot be used ({error.strerror}); name another file") from None

    def _check(self, force: bool) -> None:
        named = f"{self._option} {self.path}"
        if self.path.suffix.lower() not in (".html", ".htm"):
            raise InputError(f"{named}: must end in .html; write it like {self._option} report.html")
        if self.path.is_dir():
            raise InputError(
                f"{named}: is a folder, must be a file; name a file in it, like {self.path / 'report.html'}"
            )
        if self.path.exists() and not force and not _ours(self.path):
            raise InputError(f"{named}: already holds something that is no report of venue; add --force to replace it")
        above = self.path.absolute().parent
        while not above.exists():
            above = above.parent
        if not above.is_dir():
            raise InputError(f"{named}: {above} is a file, must be a folder; name another file")
        if not os.access(above, os.W_OK | os.X_OK):
            raise InputError(f"{named}: {above} is not writable; name a file in a folder of your own")

    @property
    def charts_folder(self) -> Path:
        """Where charts go."""
        return self.path.with_name(f"{self.path.stem}-charts")

    def write(self, record: Record, kinds: Sequence[str] = ()) -> Page:
        """Write the page, and its charts in each of these kinds.

        Raises
        ------
        RunError
            If the place has become unusable since it was checked.
        """
        page = page_of(record)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            # Whole or not at all: written next to its place, then moved there.
            staging = self.path.with_name(f".{self.path.name}.{os.getpid()}")
            try:
                staging.write_bytes(page.html.encode("utf-8", errors="replace"))
                staging.replace(self.path)
            finally:
                staging.unlink(missing_ok=True)
            if kinds:
                self.charts_folder.mkdir(exist_ok=True)
            for chart in page.charts if kinds else ():
                figure = chart.alone(page.chosen)
                for kind in kinds:
                    save_as(figure, self.charts_folder / chart.name, kind)
        except OSError as error:
            why = error.strerror or error
            raise RunError(f"{self._option} {self.path}: could not be written ({why}); name another file") from error
        return page


def _ours(path: Path) -> bool:
    """Whether a file is a page that venue wrote."""
    with path.open("rb") as file:
        return f'content="{GENERATOR} '.encode() in file.read(_HEAD)
