"""From stored numbers back to the unit cube."""

from __future__ import annotations

import numpy as np
import pytest

from ridefront.study.space import decode, encode, levels
from study_texts import CORNER, ESTATE, changed, read

SPRING = 'spring_rate = { low = "14 N/mm", high = "36 N/mm" }'


def test_there_and_back() -> None:
    """Log, times, choices and steps: stored numbers come back within rounding, and U does where it is continuous."""
    study = read(ESTATE)
    U = np.random.default_rng(1).random((500, len(study.variables)))
    U[0], U[1] = 0.0, 1.0
    X = decode(study, U)
    back = encode(study, X)
    np.testing.assert_allclose(decode(study, back), X, rtol=1e-12)
    assert back.min() >= 0
    assert back.max() <= 1
    for j, count in enumerate(levels(study)):
        if count == 0:
            np.testing.assert_allclose(back[:, j], U[:, j], atol=1e-13)
        else:
            assert (np.floor(back[:, j] * count) == np.minimum(np.floor(U[:, j] * count), count - 1)).all()
            np.testing.assert_allclose(back[:, j] * count % 1, 0.5)
    assert {0} < set(levels(study))


@pytest.mark.parametrize("scale", ["linear", "log"])
def test_where_numbers_lie(scale: str) -> None:
    """A quarter of a linear range, a quarter of a logarithmic one; beyond a range beyond 0 to 1."""
    study = read(
        changed(CORNER, (SPRING, f'spring_rate = {{ low = "10 N/mm", high = "160 N/mm", scale = "{scale}" }}'))
    )
    X = np.array([[10.0], [47.5 if scale == "linear" else 20.0], [160.0], [310.0 if scale == "linear" else 2560.0]])
    np.testing.assert_allclose(encode(study, X)[:, 0], [0, 0.25, 1, 2], atol=1e-15)


def test_a_value_between_steps_takes_the_nearest_cell() -> None:
    study = read(changed(CORNER, (SPRING, 'spring_rate = { choices = ["14 N/mm", "20 N/mm", "30 N/mm"] }')))
    np.testing.assert_allclose(encode(study, np.array([[16.9], [17.1], [99.0]]))[:, 0], [1 / 6, 0.5, 5 / 6])
