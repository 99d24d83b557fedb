import numpy as np
import pytest

from terrain.mechanics import traction


def pulling(bn, wanted, limit=0.25, **how):
    """Slip that mobility numbers need for a net pull ratio."""
    bn, wanted = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in (bn, wanted)))

    def reserve(slip, rows):
        return traction.net_traction_ratio(bn[rows], slip, **how) - wanted[rows]

    return traction.slip_needed(reserve, len(bn), limit)


def test_slip_needed_hits_the_pull():
    for bn in (6.0, 8.0, 12.0, 20.0, 55.0):
        wanted = 0.9 * traction.net_traction_ratio(bn, 0.25)
        slip = pulling(bn, wanted)
        assert traction.net_traction_ratio(bn, slip) == pytest.approx(wanted, abs=1e-4)
        assert traction.net_traction_ratio(bn, slip) >= wanted
        assert traction.net_traction_ratio(bn, slip - traction.SLIP_STEP) < wanted
        assert slip < 0.25


def test_several_places_need_what_the_worst_of_them_needs():
    bn, wanted = [12.0, 20.0, 55.0, 12.0], [0.1, 0.45, 0.3, 0.3]
    alone = [pulling(b, w) for b, w in zip(bn, wanted, strict=True)]
    assert pulling(bn, wanted) == pytest.approx(max(alone), abs=1e-12)


def test_places_that_can_no_longer_ask_for_the_most_are_not_looked_at_again():
    bn, wanted = np.array([12.0, 20.0, 55.0, 12.0, 12.0]), np.array([0.1, 0.3, 0.3, 0.2, 0.3])
    looked = []

    def reserve(slip, rows):
        looked.append(rows.tolist())
        return traction.net_traction_ratio(bn[rows], slip) - wanted[rows]

    traction.slip_needed(reserve, len(bn), 0.25)
    assert looked[0] == [0, 1, 2, 3, 4]
    assert looked[-1] == [4]
    assert (np.diff([len(rows) for rows in looked]) <= 0).all()


def test_slip_needed_with_a_gain_and_radial_tyres():
    how = {"construction": "radial", "slip_term_gain": 1.1, "grip_factor": 1.05}
    slip = pulling(12.0, 0.3, **how)
    assert traction.net_traction_ratio(12.0, slip, **how) == pytest.approx(0.3, abs=1e-4)
    assert slip < pulling(12.0, 0.3, construction="radial")


def test_slip_out_of_reach_or_not_needed():
    assert np.isnan(pulling(5.0, 0.3))
    assert np.isnan(pulling(0.0, 0.0))
    assert np.isnan(pulling(np.nan, 0.1))
    assert np.isnan(pulling([5.0, 20.0], [0.3, 0.1]))  # one place is enough
    assert np.isnan(pulling([], []))
    assert pulling(5.0, -0.5) == 0.0
    at_limit = traction.net_traction_ratio(12.0, 0.25)
    assert pulling(12.0, at_limit) == pytest.approx(0.25, abs=1e-5)
    assert np.isnan(pulling(12.0, at_limit + 1e-9))


def test_ground_without_strength_and_wheel_without_load():
    assert traction.brixius_number(0.0, 0.7, 1.3, 50.0, 0.13) == 0.0
    assert traction.motion_resistance_ratio(0.0, 0.0) == np.inf
    assert traction.gross_traction_ratio(0.0, 0.2) == pytest.approx(0.04)
    assert traction.brixius_number(500.0, 0.7, 1.3, 0.0, 0.0) == np.inf
    assert np.isnan(traction.brixius_number(500.0, 0.7, 1.3, -1.0, 0.1))
    assert traction.motion_resistance_ratio(np.inf, 0.2) == pytest.approx(0.04)


def test_slip_term_never_exceeds_one():
    full = traction.gross_traction_ratio(20.0, 0.25, slip_term_gain=5.0)
    assert full == pytest.approx(0.88 * (1 - np.exp(-2)) + 0.04, rel=1e-9)


def test_gain_of_the_contact_length_near_zero_slip():
    assert traction.contact_length_gain(1.5, 0.0) == 0.0
    small = traction.contact_length_gain(1.5, 1e-9)
    assert small == pytest.approx(1e-9 * 1.5 / 0.05, rel=1e-6)
    assert traction.slip_term_gain(1.8, 0.6, 0.0) == pytest.approx(3.0)


def test_grip_factor_leaves_the_rolling_offset_alone():
    plain = traction.gross_traction_ratio(12.0, 0.25)
    better = traction.gross_traction_ratio(12.0, 0.25, grip_factor=1.05)
    assert better - 0.04 == pytest.approx(1.05 * (plain - 0.04), rel=1e-9)


SANITY = {  # CI kPa: bare, chains with 1.05, chains on bare soil, bands; net grade capacity in %
    250: (-18, -18, -19, 1),
    400: (5, 5, 4, 21),
    600: (23, 23, 21, 37),
    900: (39, 40, 38, 51),
    1200: (49, 51, 48, 59),
}


@pytest.mark.parametrize("cone_index_kpa", SANITY)
def test_one_curve_for_bare_chained_and_tracked_gear(cone_index_kpa):
    """Regression vector of this project, own arithmetic, no evidence.

    8 wheels 710/45-26.5, 34 t loaded 40 to 60; chains 1.6 t with grip factor 1.05 (as under litter
    that they bite through) and without it (as on bare soil), bands 4.4 t, 0.887 m wide and 1.67 m
    long; 25 % slip, no film, no gain in the slip term. Bare and chained tyres at 400 kPa, tracked
    ones at a charted maximum of 450 kPa.
    """
    *expected, bands = SANITY[cone_index_kpa]
    found = (
        net_grade_percent(cone_index_kpa),
        net_grade_percent(cone_index_kpa, added_t=1.6, grip_factor=1.05),
        net_grade_percent(cone_index_kpa, added_t=1.6),
    )
    np.testing.assert_allclose(found, expected, atol=0.5)
    assert found[2] < found[0]  # mass without credit costs grip
    # the band column was made with a contact length that is not written down: one point
    tracked = net_grade_percent(cone_index_kpa, 4.4, inflation_kpa=450, track=(0.887, 1.67))
    assert tracked == pytest.approx(bands, abs=1.0)


def test_towed_resistance_on_firm_ground():
    for kind in ("bias", "radial"):
        firm = traction.towed_resistance_ratio(np.inf, kind)
        assert traction.firm_rolling_ratio(kind) == pytest.approx(firm)


def net_grade_percent(cone_index_kpa, added_t=0.0, inflation_kpa=400, grip_factor=1.0, track=None):
    from terrain.mechanics import contact

    load = (np.array([0.4, 0.6]) * 34 + added_t / 2) * 9.81
    ratio = contact.deflection_ratio(load / 4, inflation_kpa, 0.3195)
    bn = traction.brixius_number(cone_index_kpa, 0.71, 1.312, load / 4, ratio)
    if track:
        wheel = contact.ngp_wheel_kpa(load / 4, 0.71, 0.656)
        bn = traction.track_number(bn, wheel, contact.ngp_track_kpa(load / 2, *track))
    net = traction.net_traction_ratio(bn, 0.25, grip_factor=grip_factor)
    return float(100 * (net * load).sum() / load.sum())
