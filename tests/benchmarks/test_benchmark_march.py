"""The benchmark of the march runs, its answers agree, and lanes are worth having; times are for people to read."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.benchmark_march import KNEE, MODELS, beside, case, compare, first_answers, measure, table
from ridefront.response.kernel_march import CORNER_FIGURES
from ridefront.response.simulate import LANES

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("corners", [1, 4])
def test_lanes_agree_and_are_vectorised(corners: int) -> None:
    """A loop over lanes that is not vectorised gains nothing from them; one that is gained 3.5 to 5 (AVX2)."""
    timing = measure(corners, n=2 * LANES, seconds=6.5, steps=400, runs=10)
    assert timing.alike
    assert timing.one_lane / timing.kernel > 2
    assert min(timing.smooth, timing.rough, timing.threads) > 0
    printed = table([timing], None)
    assert MODELS[corners] in printed
    assert "yes" in printed


@pytest.mark.parametrize("corners", MODELS)
def test_made_up_designs_move_and_use_every_law(corners: int) -> None:
    """Figures that are nought would agree whatever the kernel did, and so would laws that never act."""
    call = case(corners, LANES, 2 * LANES, 2000)
    call.run()
    assert np.isfinite(call.figures()).all()
    rows = call.figures()[: corners * len(CORNER_FIGURES)].reshape(corners, len(CORNER_FIGURES), -1)
    figure = {name: rows[:, k] for k, name in enumerate(CORNER_FIGURES)}
    assert (figure["highest travel"] > 0).all()
    assert (figure["lowest travel"] < 0).all()
    assert (figure["mean square speed"] > KNEE**2).any()
    for name in ("lift-off", "bump stop"):
        assert (figure[name] > 0).any(), name
        assert (figure[name] < 0.3).all(), name


def test_other_ways_give_the_same_answers() -> None:
    rivals = compare(n=LANES, seconds=7.0, few=1, runs=1)
    assert rivals.stop > 0
    assert rivals.lift_off > 0
    assert rivals.apart < 1e-9
    for travel in rivals.adaptive_travel:
        assert travel == pytest.approx(rivals.travel, rel=5e-4)
    assert "numpy" in beside(rivals)


def test_first_answers_are_timed() -> None:
    found = first_answers()
    assert len(found) == len(MODELS)
    assert min(found) > 0
