"""A half car of dynamic index 1 is two quarter cars that do not know of each other, whatever the delay."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.response.frequency import frequency_response
from ridefront.vehicle import Load, model_of
from ridefront.vehicle.static import at_rest
from twins.vehicles import AXLES, grid_of, real_car

Array = NDArray[np.float64]
UNLADEN = (Load("unladen", reference=True),)


@pytest.mark.parametrize("speed", [10.0, 33.0])
def test_axles_ride_alone(speed: float) -> None:
    car = real_car(np.random.default_rng(91), 20) | {"body.dynamic_index": np.ones(20)}
    half = frequency_response(at_rest(car, model_of("half-car"), UNLADEN, 0)[0], grid_of("half-car", speed), passes=8)
    for c, axle in enumerate(AXLES):
        state = at_rest(car, model_of("quarter-car", axle), UNLADEN, 0)[0]
        quarter = frequency_response(state, grid_of("quarter-car", speed), passes=8)
        for name in ("damping", "mean_travel", "wheel_rate", "travel", "travel_speed", "contact_force"):
            np.testing.assert_allclose(getattr(half, name)[:, c], getattr(quarter, name)[:, 0], rtol=1e-8)
        # The end of the body above the axle moves as the quarter car's mass does.
        x = at_rest(car, model_of("half-car"), UNLADEN, 0)[0].body.x[:, c]
        for got, want in ((half.acceleration, quarter.acceleration), (half.weighted, quarter.weighted)):
            above = got[:, 0] - 2 * x * got[:, 1] + x * x * got[:, 2]
            np.testing.assert_allclose(above, want[:, 0], rtol=1e-8)


def test_heading_does_not_matter_to_a_symmetric_car() -> None:
    """Front and rear alike: travel and load of both axles are the same, though one comes later."""
    car = real_car(np.random.default_rng(92), 10)
    car |= {key.replace("front", "rear", 1): value for key, value in car.items() if key.startswith("front.")}
    car["front_share"] = np.full(10, 0.5)
    car["body.dynamic_index"] = np.ones(10)
    response = frequency_response(at_rest(car, model_of("half-car"), UNLADEN, 0)[0], grid_of("half-car", 20.0))
    for figure in (response.travel, response.travel_speed, response.contact_force, response.damping):
        np.testing.assert_allclose(figure[:, 0], figure[:, 1], rtol=1e-9)


def test_wheelbase_filters_heave_and_pitch() -> None:
    """Cars alike at both ends, dynamic index 1: heave is the quarter car's times cos(ωτ/2), pitch its sin over a."""
    car = real_car(np.random.default_rng(93), 6)
    car |= {key.replace("front", "rear", 1): value for key, value in car.items() if key.startswith("front.")}
    car["front_share"], car["body.dynamic_index"] = np.full(6, 0.5), np.ones(6)
    grid = grid_of("half-car", 15.0)
    state = at_rest(car, model_of("half-car"), UNLADEN, 0)[0]
    half = frequency_response(state, grid, passes=8)
    for j in range(6):
        m, m_u = state.body.corner_mass[j, 0], state.unsprung_mass[j, 0]
        w = grid.omega
        s = half.wheel_rate[j, 0] + 1j * w * half.damping[j, 0]
        t = state.tyre_rate[j, 0] + 1j * w * state.tyre_damping[j, 0]
        z = s * t / ((s - w**2 * m) * (s + t - w**2 * m_u) - s * s)
        square = w**4 * np.abs(z) ** 2 * grid.power
        heave = np.sum(square * np.cos(w * grid.lag / 2) ** 2)
        pitch = np.sum(square * np.sin(w * grid.lag / 2) ** 2) / state.body.x[j, 0] ** 2
        assert half.acceleration[j, 0] == pytest.approx(heave, rel=1e-9)
        assert half.acceleration[j, 2] == pytest.approx(pitch, rel=1e-9)
