"""Spectra against figures of the kernels and of the march, which integrate without keeping a spectrum."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridefront.evaluate import Evaluator
from ridefront.evaluate.spectra import Spectra, spectra, third_octaves
from ridefront.evaluate.tracing import trace
from ridefront.response.weighting import WEIGHTINGS
from small_runs import small_study
from traced_studies import CAR, TWO_SIDES, traced_study

LANE = 2
ALIKE = tuple(change for change in TWO_SIDES if "-0.4 m" not in change[1])
LINEAR = (
    ('friction = "40 N"', 'friction = "0 N"\nbump_share = 0.5'),
    ('speed = ["50 km/h", "80 km/h"]', 'speed = "80 km/h"'),
)
"""Changes that make the corner of `small_runs` a linear one, on one road."""


def stored(evaluator: Evaluator, X: np.ndarray, criterion: str, condition: str) -> dict[str, np.ndarray]:
    """Figures by place, (n,), SI, as the kernel or the march gives them."""
    found = evaluator.pieces(X, [criterion])
    return {
        place: found.values[:, p]
        for p, (place, where) in enumerate(zip(found.place, found.condition, strict=True))
        if where == condition
    }


@pytest.mark.parametrize("changes", [(), TWO_SIDES, ALIKE], ids=["half car", "full car off centre", "full car"])
def test_their_integrals_are_the_figures_of_the_kernels(tmp_path: Path, changes: tuple[tuple[str, str], ...]) -> None:
    evaluator = Evaluator(traced_study(tmp_path, CAR, *changes))
    now = evaluator.study.present
    assert now is not None
    X = np.stack([now, 1.3 * now])
    found = spectra(evaluator, X, LANE)
    assert found.ok.all()
    static = trace(evaluator, X, LANE).static_contact_force
    for criterion, name, names in (
        ("comfort", "weighted", found.points[:-1]),
        ("body_acceleration", "acceleration", found.points[:-1]),
        ("travel_rms", "travel", found.corners),
        ("dynamic_load_coefficient", "contact_force", found.corners),
    ):
        known = stored(evaluator, X, criterion, found.condition)
        for k, place in enumerate(names):
            rms = np.sqrt(found.mean_square[name][:, k])
            # The trapezoid over frequencies even in ln f is not the kernel's rule; the sum with its rule is its figure.
            drawn = np.sqrt(np.trapezoid(getattr(found, name)[:, k], found.frequency))
            if name == "contact_force":
                rms, drawn = rms / static[:, k], drawn / static[:, k]
            np.testing.assert_allclose(rms, known[place], rtol=1e-9, err_msg=f"{criterion}.{place}")
            np.testing.assert_allclose(drawn, known[place], rtol=2e-4, err_msg=f"{criterion}.{place}")


def test_the_weighted_spectrum_is_the_other_one_weighted(tmp_path: Path) -> None:
    evaluator = Evaluator(traced_study(tmp_path))
    assert evaluator.study.present is not None
    found = spectra(evaluator, evaluator.study.present[np.newaxis], LANE)
    share = np.abs(WEIGHTINGS["Wk"].response(found.frequency)) ** 2
    np.testing.assert_allclose(found.weighted, share * found.acceleration, rtol=1e-12)


def linear_corner(folder: Path) -> tuple[Spectra, Spectra, Evaluator, np.ndarray]:
    """Of a linear corner in both domains, on 4 km of road."""
    study = small_study(folder, *LINEAR, ('class = "C"', 'class = "C"\nlength = "4 km"\nrealisations = 1'))
    evaluator = Evaluator(study)
    assert study.present is not None
    X = study.present[np.newaxis]
    return spectra(evaluator, X, 0), spectra(evaluator, X, 0, "time-domain"), evaluator, X


def test_histories_of_a_linear_corner_have_the_spectra_of_its_equations(tmp_path: Path) -> None:
    """Two ways that share nothing but the vehicle: the march with Welch's method, and dense solves. A road of 4 km
    gives some 45 segments; a third of an octave about 1 Hz has two lines of each, so some 15 % are scatter.
    """
    solved, driven, evaluator, X = linear_corner(tmp_path)
    assert (solved.domain, driven.domain) == ("frequency-domain", "time-domain")
    centres = 2.0 ** np.arange(0.0, 4.5, 1 / 3)
    for name in ("acceleration", "weighted", "contact_force", "travel", "damper_speed"):
        both = [np.sqrt(third_octaves(of.frequency, getattr(of, name), centres)) for of in (solved, driven)]
        np.testing.assert_allclose(both[1], both[0], rtol=0.15, err_msg=name)
        np.testing.assert_allclose(
            np.sqrt(driven.mean_square[name]), np.sqrt(solved.mean_square[name]), rtol=2e-3, err_msg=name
        )
        whole = np.trapezoid(getattr(driven, name), driven.frequency)
        np.testing.assert_allclose(np.sqrt(whole), np.sqrt(driven.mean_square[name]), rtol=0.05, err_msg=name)
    history = trace(evaluator, X, 0).damper_speed
    np.testing.assert_allclose(driven.mean_square["damper_speed"], history.var(axis=-1), rtol=1e-12)


def test_designs_that_cannot_stand_have_no_spectra(tmp_path: Path) -> None:
    beyond = ('mass = "250 kg", behind_front_axle = "2.6 m"', 'mass = "2500 kg", behind_front_axle = "9 m"')
    study = traced_study(tmp_path, CAR, beyond)
    evaluator = Evaluator(study)
    assert study.present is not None
    found = spectra(evaluator, study.present[np.newaxis], LANE)
    assert not found.ok.any()
    assert np.isnan(found.acceleration).all()
    assert np.isnan(found.mean_square["travel"]).all()


def test_bands_side_by_side_make_up_the_whole() -> None:
    f = np.geomspace(0.5, 40.0, 300)
    density = np.stack([f**-1.5, np.exp(-0.5 * (np.log(f / 5) / 0.2) ** 2)])
    centres = 0.6 * 2.0 ** (1 / 6) * 2.0 ** (np.arange(15) / 3)
    low, high = 0.6, 0.6 * 2.0**5
    fine = np.linspace(low, high, 400_001)
    whole = [np.trapezoid(np.interp(fine, f, one), fine) for one in density]
    np.testing.assert_allclose(third_octaves(f, density, centres).sum(axis=-1), whole, rtol=1e-6)
    band = np.linspace(4.0 / 2 ** (1 / 6), 4.0 * 2 ** (1 / 6), 100_001)
    one = np.trapezoid(np.interp(band, f, density[0]), band)
    np.testing.assert_allclose(third_octaves(f, density[0], np.array([4.0])), [one], rtol=1e-6)
