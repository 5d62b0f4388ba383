"""Whatever is struck: the ball stays in the court, never gains energy, and the mirror mirrors."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.ball import Coefficients, fly, fly_contacts
from goodlength.ball.model import flight_array_indices as at

C = Coefficients()

launches = st.tuples(
    st.floats(0.03, 6.37),
    st.floats(0.03, 9.72),
    st.floats(0.03, 3.0),
    st.floats(-30, 30),
    st.floats(-40, 40),
    st.floats(-15, 20),
    st.floats(-400, 400),
    st.floats(-400, 400),
    st.floats(-400, 400),
)


def energy(v, w, z, c):
    """Per unit mass."""
    return 0.5 * v @ v + 0.5 * c.inertia_factor * c.radius_m**2 * (w @ w) + c.gravity_m_s2 * z


@settings(max_examples=150, deadline=None)
@given(launches)
def test_any_shot_stays_in_the_court_and_never_gains_energy(launch):
    found = fly_contacts([launch], [C.but(lift=0.0).row()])
    rows = found.rows[0, : found.counts[0]]
    assert np.isfinite(rows).all()
    r = C.radius_m - 1e-12
    assert (rows[:, at.X] >= r).all() and (rows[:, at.X] <= 6.40 - r).all()
    assert (rows[:, at.Y] >= r).all() and (rows[:, at.Y] <= 9.75 - r).all()
    assert (rows[:, at.Z] >= r).all()
    assert (np.diff(rows[:, at.TIME]) >= 0).all()
    before = energy(np.array(launch[3:6]), np.array(launch[6:]), launch[2], C)
    for row in rows:
        after = energy(row[at.VX : at.VZ + 1], row[at.WX : at.WZ + 1], row[at.Z], C)
        assert after <= before * (1 + 1e-9) + 1e-9
        before = after


@settings(max_examples=100, deadline=None)
@given(launches)
def test_mirror_the_court_mirror_the_flight(launch):
    mirrored = list(launch)
    mirrored[0] = 6.40 - launch[0]
    for k in (3, 7, 8):
        mirrored[k] = -launch[k]
    a, b = fly(launch, C), fly(mirrored, C)
    assert len(a.contacts) == len(b.contacts)
    for item, two in zip(a.contacts, b.contacts, strict=True):
        assert abs(item.t_s - two.t_s) < 1e-6
        assert abs(item.x_m - (6.40 - two.x_m)) < 1e-5
        assert abs(item.y_m - two.y_m) < 1e-5
