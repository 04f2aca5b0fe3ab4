"""What an answer hangs on: known functions first, then a scenario whose answer hangs on one number alone."""

from __future__ import annotations

import math

import numpy as np
import pytest

import venue
from tests.checking import Disagrees, check_close
from venue.errors import InputError
from venue.study.factors import factors_of
from venue.study.indices import Array, elementary_effects, variance_shares
from venue.study.sensitivity import SensitivityResult

from .test_workers import small

A, B = 7.0, 0.1
BOUNDS = [(-math.pi, math.pi)] * 3


def ishigami(points: Array, b: float = B) -> Array:
    """Ishigami & Homma 1990: sin x1 + a sin^2 x2 + b x3^4 sin x1."""
    one, two, three = points.T
    result = np.sin(one) + A * np.sin(two) ** 2 + b * three**4 * np.sin(one)
    return result[:, None]


def exact() -> tuple[list[float], list[float]]:
    """Its shares in closed form: V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V13 = 8 b^2 pi^8 / 225."""
    one, two, both = (1 + B * math.pi**4 / 5) ** 2 / 2, A**2 / 8, 8 * B**2 * math.pi**8 / 225
    whole = one + two + both
    return [one / whole, two / whole, 0.0], [(one + both) / whole, two / whole, both / whole]


def check_shares(b: float) -> None:
    found = variance_shares(BOUNDS, lambda points: ishigami(points, b), samples=4096, seed=1)[0]
    first, total = exact()
    check_close(found.first, first, abs=0.02)
    check_close(found.total, total, abs=0.02)


def test_variance_shares_of_a_known_function() -> None:
    assert exact()[0] == pytest.approx([0.3139, 0.4424, 0.0], abs=5e-5)  # as commonly printed
    assert exact()[1] == pytest.approx([0.5576, 0.4424, 0.2437], abs=5e-5)
    check_shares(B)


def test_control_another_function() -> None:
    with pytest.raises(Disagrees):
        check_shares(B / 2)


def check_effects(slopes: list[float]) -> None:
    bounds = [(0.0, 1.0), (-2.0, 2.0), (5.0, 5.5)]
    found = elementary_effects(bounds, lambda points: points @ np.array([[3.0], [-1.0], [4.0]]), trajectories=4, seed=1)
    check_close(found.mean[0], slopes)
    check_close(found.size[0], np.abs(slopes))
    check_close(found.spread[0], 0.0, abs=1e-9)


def test_effects_of_a_linear_function_are_slope_times_range() -> None:
    check_effects([3.0, -4.0, 2.0])


def test_control_effects_for_one_unit() -> None:
    with pytest.raises(Disagrees):
        check_effects([3.0, -1.0, 4.0])


# -- a scenario -------------------------------------------------------------------------------------------------------


def test_ranges_follow_origins() -> None:
    loaded = small().vary(
        ['people.buy_in.price={value=0.5,from="measured"}', 'people.patience.mean={value="100 s",from="fitted"}']
    )
    found = {factor.key: factor for factor in factors_of(loaded, [], None)[0]}
    price, patience = found["people.buy_in.price"], found["people.patience.mean"]
    assert (price.low, price.high, price.source) == (pytest.approx(0.475), pytest.approx(0.525), "measured")
    assert (patience.low, patience.high, patience.unit) == (pytest.approx(90), pytest.approx(110), "s")
    assert patience.change(95.0) == 'people.patience.mean="95 s"'
    chance = found["titles.duel.scores_again"]
    assert (chance.low, chance.high) == (pytest.approx(0.55 * 0.7), pytest.approx(0.55 * 1.3))
    assert all(not key.startswith(("machines", "study", "venue")) for key in found)
    narrow = factors_of(loaded, ["people.buy_in"], 0.1)[0]
    assert {factor.key.rpartition(".")[0] for factor in narrow} == {"people.buy_in"}
    assert next(item for item in narrow if item.key == "people.buy_in.price").low == pytest.approx(0.45)


def test_what_cannot_move_is_named_not_moved() -> None:
    found, left_out = factors_of(small(), ["people"], None)
    assert not {factor.key for factor in found} & set(left_out)
    assert all(factor.low < factor.high for factor in found) and left_out


@pytest.fixture(scope="module")
def study() -> SensitivityResult:
    return venue.sensitivity(
        small(), "buy_in_rate", keys=["people.buy_in", "people.wallet"], trajectories=2, shares=2, samples=8, days=1
    )


def test_a_study_ranks_numbers_and_keeps_their_origin(study: SensitivityResult) -> None:
    ranking = study.ranking
    assert ranking["effect"].is_monotonic_decreasing and list(ranking.index) == [item.key for item in study.factors]
    assert ranking["share_total"].notna().sum() == 2 and ranking["from"].notna().all()
    assert study.runs == 2 * (len(study.factors) + 1) + 8 * 4
    other = study.effects_on("credits_per_play")
    assert set(other.index) == set(ranking.index) and other["effect"].is_monotonic_decreasing
    assert len(study.to_dict()["numbers"]) == len(study.factors)


def test_the_report_of_a_study(study: SensitivityResult) -> None:
    from venue.report.charts.collection import folder_charts
    from venue.report.layout import as_text
    from venue.report.page.record import made
    from venue.report.study_tables import sensitivity_files
    from venue.report.study_text import sensitivity_parts

    for width in (60, 100, 160):
        text = as_text(sensitivity_parts(study, full=True), width)
        assert all(len(line) <= max(width, 100) for line in text.split("\n"))
    assert study.factors[0].key in text and "Caution" in text and "nan" not in text
    (figure,) = folder_charts(made(study.to_dict(), study.loaded, ())).values()
    assert figure.axes[0].get_yticklabels()[0].get_text()[:20] == study.factors[0].key[:20]
    assert {file.name for file in sensitivity_files(study)} == {"ranking", "effects"}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"measure": "credits"}, "--measure credits: is no measure"),
        ({"keys": ["machines"]}, "there is no number to move under machines"),
        ({"spread": 2.0}, "--spread 2: must lie between 0 and 1"),
        ({"trajectories": 1}, "--trajectories 1: must lie between 2 and 1000"),
        ({"samples": 33}, "--samples 33: must be a power of 2"),
        ({"trajectories": 1000, "samples": 65536}, "at most 100000 are"),
    ],
)
def test_studies_that_cannot_be(asked: dict[str, object], words: str) -> None:
    with pytest.raises(InputError) as caught:
        venue.sensitivity(small(), **{"measure": "utilisation", **asked})  # type: ignore[arg-type]
    assert words in str(caught.value)
