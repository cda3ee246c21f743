"""Poles of a quarter of a bus with a damped tyre, against a university's tutorial.

Control Tutorials for MATLAB and Simulink, University of Michigan (ctms.engin.umich.edu, Suspension: System Modeling
and Root Locus; data and poles seen there and in copies of its pages): 2500 kg on 320 kg, 80 and 500 kN/m, 350 and
15020 N·s/m: -0.1098 ± 5.2504i and -23.9758 ± 35.1869i 1/s.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import at_rest_under, quarter_car
from checks import check
from ridefront.vehicle.equations import equations_of_motion, modes, state_matrix

SOURCE = "University of Michigan, Control Tutorials, bus suspension"
HOW = "seen, ctms.engin.umich.edu, Suspension: Root Locus"


def test_poles() -> None:
    """Half a unit of the last digit given; modes give the same as frequency and damping ratio."""
    bus = quarter_car(
        2500.0, unsprung_mass=320.0, spring_rate=80e3, damping=350.0, tyre_rate=500e3, tyre_damping=15020.0
    )
    equations = equations_of_motion(at_rest_under(bus), np.array([[350.0]]))
    poles = np.linalg.eigvals(state_matrix(equations)[0])
    body, wheel = sorted(poles[poles.imag > 0], key=abs)
    for name, pole, real, imaginary in (
        ("body", body, "-0.1098", "5.2504"),
        ("wheel", wheel, "-23.9758", "35.1869"),
    ):
        for part, theirs, ours in (("real", real, pole.real), ("imaginary", imaginary, pole.imag)):
            figure = f"pole of the {name}, {part} part"
            check(figure=figure, source=SOURCE, theirs=theirs, ours=float(ours), unit="1/s", abs=5e-5, how=HOW)
    for mode, pole in zip(modes(equations), (body, wheel), strict=True):
        assert 2 * np.pi * mode.frequency == pytest.approx(abs(pole), rel=1e-12)
        assert mode.damping_ratio == pytest.approx(-pole.real / abs(pole), rel=1e-12)
