"""ISO 2631-1:1997 through the digital filters: the standard's factors from filtered tones.

The tables and where they come from: `test_iso2631`. ISO 8041, bursts of a sawtooth for tests of instruments: rms values
seen at github.com/projectchrono/chrono, src/tests/unit_tests/core/utest_CH_ISO2631.cpp.
"""

from __future__ import annotations

import numpy as np
import pytest

from checks import check, check_all
from digital_filters import Array, through
from published.test_iso2631 import CALIBRATORS, CALIBRATORS_SEEN, COUNTS, SOURCE, TABLES, TABLES_SEEN
from published.two_ends import weighting
from ridefront.response.digital import sections
from ridefront.response.weighting import WEIGHTINGS

SETTLING = 20.0  # s: the high-pass at 0.4 Hz dies away as exp(-1.78 t)
LENGTH = 100.0  # s: a whole number of periods of every nominal frequency


def settled(name: str, f: float, step: float) -> Array:
    """A tone, weighted, after the filter has settled."""
    t = np.arange(round((SETTLING + LENGTH) / step)) * step
    out = through(sections(WEIGHTINGS[name], step), np.sin(2 * np.pi * f * t))
    return out[round(SETTLING / step) :]


def share(name: str, f: float, step: float) -> float:
    """Rms of a weighted tone over that of the tone."""
    return float(np.sqrt(2 * np.mean(settled(name, f, step) ** 2)))


def formula(name: str, f: float) -> float:
    """By the constants, as `two_ends` writes them out."""
    return float(np.sqrt(weighting(name, np.array([f]))[0]))


@pytest.mark.parametrize("name", ["Wk", "Wd", "Wc", "We"])
def test_table_from_filtered_tones(name: str) -> None:
    """Every third of an octave at 1 ms: within 1 % of the table and within its rounding, and within 0.2 % of the
    formula.
    """
    table = {f: w for f, w in TABLES[name].items() if f >= 0.5}
    factors = np.array([share(name, f, 1e-3) for f in table])
    np.testing.assert_allclose(factors, [formula(name, f) for f in table], rtol=2e-3)
    np.testing.assert_allclose(1000 * factors, [float(w) for w in table.values()], rtol=0.01)
    check_all(
        figure=f"{name} from filtered tones, 0.5 to 80 Hz, step 1 ms",
        source=SOURCE,
        theirs=list(table.values()),
        ours=1000 * factors,
        at=[f"{f:g} Hz" for f in table],
        unit="1/1000",
        abs=COUNTS[name],
        how=TABLES_SEEN,
    )


BURSTS = {
    "Wk": ("0.0299", "0.0411", "0.0577", "0.0814", "0.115", "0.362"),
    "Wd": ("0.00669", "0.00906", "0.0116", "0.0148", "0.0197", "0.059"),
}
TEETH = (1, 2, 4, 8, 16, None)  # None: without end


def sawtooth(teeth: int | None, each: int, step: float) -> Array:
    """60 s of teeth of 100 rad/s from -1 to 1, each from nought to nought and `each` samples long: a burst every 10 s,
    or no end.
    """
    rise = (np.arange(each) + 0.5) / each
    tooth = 2 * np.where(rise < 0.5, rise, rise - 1)
    samples = round(60.0 / step)
    if teeth is None:
        return np.resize(tooth, samples)
    y = np.zeros(samples)
    for start in range(1, 60, 10):
        first = round(start / step)
        y[first : first + teeth * each] = np.tile(tooth, teeth)
    return y


@pytest.mark.parametrize("name", list(BURSTS))
def test_bursts_of_a_sawtooth(name: str) -> None:
    """The standard allows an instrument 10 %. Ours are 0.2 % off for Wk, and for Wd 0.1 % but for bursts of 2, 4 and 8
    teeth, 0.8 to 1.4 % below the figures whatever the step; why is not known, so 1.5 %.
    """
    each = 100
    step = 2 * np.pi / 100 / each
    check_all(
        figure=f"rms of a sawtooth of 100 rad/s, weighted by {name}",
        source="ISO 8041, bursts of a sawtooth",
        theirs=list(BURSTS[name]),
        ours=[np.sqrt(np.mean(through(sections(WEIGHTINGS[name], step), sawtooth(n, each, step)) ** 2)) for n in TEETH],
        at=[f"{n} teeth every 10 s" if n else "without end" for n in TEETH],
        unit="m/s²",
        rel={"Wk": 2.5e-3, "Wd": 0.015}[name],
        how="seen at github.com/projectchrono/chrono, src/tests/unit_tests/core/utest_CH_ISO2631.cpp",
    )


@pytest.mark.parametrize("step", [1e-4, 2e-3])
def test_table_at_the_shortest_and_longest_usual_step(step: float) -> None:
    for f in (0.5, 1.0, 6.3, 31.5, 80.0):
        assert 1000 * share("Wk", f, step) == pytest.approx(float(TABLES["Wk"][f]), abs=COUNTS["Wk"])


@pytest.mark.parametrize("name", list(CALIBRATORS))
def test_at_a_hundred_radians_a_second(name: str) -> None:
    """Reference values for calibrators, as in `test_iso2631`. The record is not a whole number of periods,
    which adds up to 1e-4 of the factor.
    """
    check(
        figure=f"{name} at 100 rad/s from a filtered tone",
        source=SOURCE,
        theirs=CALIBRATORS[name],
        ours=share(name, 100 / (2 * np.pi), 1e-3),
        rel=4e-4,
        how=CALIBRATORS_SEEN,
    )
