"""A kerb under the left wheels: the body comes to rest leaning, and has settled when its centre of mass is there."""

from __future__ import annotations

import numpy as np

from builders import at_rest_under, full_car
from ridefront.response.drive import drive
from ridefront.response.simulate import histories
from ridefront.response.time_domain import Simulation
from ridefront.road import Obstacle
from ridefront.vehicle import Load, LoadMass

HEIGHT, TRACK, SPEED = 0.05, 1.5, 8.0
LOADS = (Load("alone", reference=True), Load("aside", (LoadMass(150.0, 1.2, left_of_centre=0.6),)))


def test_settling_on_a_kerb_under_one_side() -> None:
    """Rest behind the kerb is a plane through four wheels: half the height, and more where the mass is to the left."""
    stiff = {f"{axle}.damping": 4000.0 for axle in ("front", "rear")}
    kerb = Obstacle("kerb", "step", height=HEIGHT, run_out=60.0, side="left")
    for at in (0, 1):
        state = at_rest_under(full_car(stiff), LOADS, at)
        way = drive(kerb, SPEED, 0.1, 2.7, 1e-3, seed=0, track=TRACK)
        x, _ = histories(state, way)
        track = float(state.body.y[0, 0] - state.body.y[0, 1])
        rest = HEIGHT * (0.5 + float(state.body.left[0]) / track)
        np.testing.assert_allclose(x[0, 0, -1], rest, atol=1e-4)
        settling = Simulation(state, way, np.zeros((1, 1))).response().settling[0]
        moved = np.abs(x[0, 0] - rest)[way.first :]
        beyond = np.flatnonzero(moved > 0.05 * moved.max())[-1]
        assert np.isfinite(settling)
        np.testing.assert_allclose(settling, (beyond + 1) * way.step, atol=1.5 * way.step)
        assert 0.3 < settling < 3.0
