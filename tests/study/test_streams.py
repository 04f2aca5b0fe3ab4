"""Random streams with names: each is uniform, all are unrelated, and none knows how much was drawn from another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations, islice

import numpy as np
import pytest
from scipy import stats

from tests.checking import Disagrees, check_equal, check_likely, check_that
from venue.streams import Streams

DRAWS = 4000
RARE = float(2 * stats.norm.sf(4))  # a p-value as rare as 4 standard errors
PURPOSES = ("arrivals", "visit", "play", "buy-in", "choice", "skill", "patience")


def drawn(streams: Streams, purpose: str, number: int, count: int = DRAWS) -> np.ndarray:
    return np.array(list(islice(streams.uniforms(purpose, number), count)))


# -- one stream ----------------------------------------------------------------------------------------------------


def check_uniform(values: np.ndarray) -> None:
    # Kolmogorov-Smirnov of the values, and of pairs of neighbours by their lag-one correlation.
    check_that(values.min() >= 0.0)
    check_that(values.max() < 1.0)
    check_likely(stats.kstest(values, "uniform").pvalue, RARE)
    check_unrelated(values[:-1], values[1:])


def check_unrelated(a: np.ndarray, b: np.ndarray) -> None:
    check_that(abs(np.corrcoef(a, b)[0, 1]) < 4 / math.sqrt(len(a)))


@pytest.mark.parametrize("purpose", PURPOSES)
def test_a_stream_is_uniform(purpose: str) -> None:
    check_uniform(drawn(Streams(1, 0), purpose, 17))


def test_first_draws_of_many_streams_are_uniform() -> None:
    # A visit uses few draws of its stream, so it is the beginnings that must be good.
    streams = Streams(1, 0)
    for place in range(3):
        check_uniform(np.array([drawn(streams, "play", number, 3)[place] for number in range(DRAWS)]))
    check_uniform(np.array([drawn(Streams(1, replication), "play", 0, 1)[0] for replication in range(DRAWS)]))
    check_uniform(np.array([drawn(Streams(seed, 0), "play", 0, 1)[0] for seed in range(DRAWS)]))


def test_control_draws_that_are_not_uniform() -> None:
    values = drawn(Streams(1, 0), "play", 17)
    with pytest.raises(Disagrees):
        check_uniform(values**1.1)
    with pytest.raises(Disagrees):
        check_uniform((values[1:] + values[:-1]) % 1.0 * 0.5 + 0.25)


@pytest.mark.parametrize("number", [0, 1, 63, 64, 4096 * 70_000 + 3])
@pytest.mark.parametrize("purpose", PURPOSES[:3])
def test_uniforms_are_those_of_the_generator(purpose: str, number: int) -> None:
    # Piece by piece or at once, and with whole arrays in between.
    expected = Streams(5, 3).generator(purpose, number).random(1000)
    streams = Streams(5, 3)
    found = []
    tap = streams.uniforms(purpose, number)
    for piece in (1, 7, 8, 1, 47, 64, 200):
        found += list(islice(tap, piece))
        streams.generator("arrivals", 9).random(100)
    assert found == expected[: len(found)].tolist()


# -- many streams --------------------------------------------------------------------------------------------------


def check_kept(extra: Sequence[tuple[str, int]], watched: tuple[str, int]) -> None:
    """Draws from other streams, before and in between, do not change what flows from this one."""
    alone = drawn(Streams(2, 1), *watched, count=300).tolist()
    streams = Streams(2, 1)
    others = [streams.uniforms(*key) for key in extra]
    tap = streams.uniforms(*watched)
    found = []
    for step in range(300):
        for other in others:
            list(islice(other, step % 5))
        found.append(next(tap))
    check_equal(found, alone)


@pytest.mark.parametrize("purpose", PURPOSES)
def test_an_extra_draw_for_one_purpose_changes_no_other(purpose: str) -> None:
    extra = [(other, 4) for other in PURPOSES if other != purpose]
    check_kept([*extra, (purpose, 3), (purpose, 5)], (purpose, 4))


def test_order_of_asking_does_not_matter() -> None:
    keys = [(purpose, number) for purpose in PURPOSES for number in (0, 7, 8)]
    forward, backward = Streams(2, 1), Streams(2, 1)
    first = {key: drawn(forward, *key, count=40).tolist() for key in keys}
    second = {key: drawn(backward, *key, count=40).tolist() for key in reversed(keys)}
    assert first == second


def check_all_unrelated(columns: Sequence[np.ndarray]) -> None:
    for a, b in combinations(columns, 2):
        check_unrelated(a, b)
        check_equal(len(set(a) & set(b)), 0)


def test_streams_are_unrelated() -> None:
    streams = Streams(1, 0)
    check_all_unrelated([drawn(streams, purpose, 4) for purpose in PURPOSES])
    check_all_unrelated([drawn(streams, "play", number) for number in (0, 1, 2, 64, 4096, 2**31, 2**40)])
    check_all_unrelated([drawn(Streams(1, replication), "play", 4) for replication in range(6)])
    check_all_unrelated([drawn(Streams(seed, 0), "play", 4) for seed in range(6)])
    # A seed and a replication are not to be confused.
    check_all_unrelated([drawn(Streams(0, 1), "play", 4), drawn(Streams(1, 0), "play", 4)])


def test_control_streams_with_one_key() -> None:
    with pytest.raises(Disagrees):
        check_all_unrelated([drawn(Streams(1, 0), "play", 4), drawn(Streams(1, 0), "play", 4)])


def test_the_same_key_gives_the_same_stream() -> None:
    for key in (("play", 4), ("skill", 0)):
        assert drawn(Streams(3, 2), *key).tolist() == drawn(Streams(3, 2), *key).tolist()
