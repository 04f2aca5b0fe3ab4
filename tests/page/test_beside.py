"""Work done by a process of its own: the same comes of it as if it were done here, its errors too."""

from __future__ import annotations

import os

import pytest

from venue.report.page.background import Beside


def test_what_is_sent_back_is_what_was_worked_out() -> None:
    work = Beside(lambda: [str(number) for number in range(100_000)])
    assert work.result() == [str(number) for number in range(100_000)]


def test_it_is_another_process_where_there_is_a_core_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert Beside(os.getpid).result() != os.getpid()
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert Beside(os.getpid).result() == os.getpid()


def test_an_error_is_raised_where_the_result_is_asked_for() -> None:
    def fail() -> int:
        raise ValueError("no such rule")

    work = Beside(fail)
    with pytest.raises(ValueError, match="no such rule"):
        work.result()


def test_a_process_that_dies_leaves_its_work_to_this_one() -> None:
    here = os.getpid()

    def only_here() -> int:
        if os.getpid() != here:
            os._exit(7)
        return 42

    assert Beside(only_here).result() == 42
