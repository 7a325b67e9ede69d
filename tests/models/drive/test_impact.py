"""Impact against rigid-body mechanics worked out a second way."""

from dataclasses import replace

import numpy as np
import pytest

from models.drive.ball import BALL_MASS_KG, BALL_RADIUS_M
from models.drive.errors import DriveInputError
from models.drive.heads import HEADS, LOW_SPIN, STANDARD, Head, head_named
from models.drive.impact import Delivery, delivered_loft, impact
from models.drive.parameters import default_parameters, draw_parameters
from tests.reference.impact import ball_after, strike

PARAMETERS = default_parameters()
MPH = 0.44704


def scattered_deliveries(n=200, seed=4):
    rng = np.random.default_rng(seed)
    return Delivery(
        club_speed_mps=rng.uniform(30, 55, n),
        attack_deg=rng.uniform(-8, 8, n),
        loft_deg=rng.uniform(6, 20, n),
        path_deg=rng.uniform(-8, 8, n),
        face_deg=rng.uniform(-8, 8, n),
        strike_toe_mm=rng.uniform(-25, 25, n),
        strike_up_mm=rng.uniform(-15, 15, n),
    )


def rows(vector):
    return np.stack(np.broadcast_arrays(*vector), axis=-1)


def velocities_after(contact, head):
    """Return the contact point's velocity on head and ball after the impulse, and the masses."""
    impulse, arm = rows(contact.impulse), rows(contact.arm)
    mass = head.mass_kg + head.shaft_mass_kg
    axes = [rows(axis) for axis in contact.head_axes]
    moments = (
        head.moi_face_normal_axis_kg_m2,
        head.moi_heel_toe_axis_kg_m2,
        head.moi_vertical_axis_kg_m2,
    )
    torque = np.cross(arm, -impulse)
    turn = sum(
        (torque * axis).sum(-1, keepdims=True) / moment * axis
        for axis, moment in zip(axes, moments, strict=True)
    )
    head_point = rows(contact.closing) - impulse / mass + np.cross(turn, arm)
    normal = rows(contact.normal)
    spin = np.cross(-BALL_RADIUS_M * normal, impulse) / (0.4 * BALL_MASS_KG * BALL_RADIUS_M**2)
    ball_point = impulse / BALL_MASS_KG + np.cross(spin, -BALL_RADIUS_M * normal)
    return head_point, ball_point, turn, spin


@pytest.mark.parametrize("head", HEADS.values(), ids=HEADS.keys())
def test_impact_in_lanes_equals_the_vector_equations(head):
    rng = np.random.default_rng(9)
    n = 3_001  # not a whole number of lanes
    delivery = Delivery(
        rng.uniform(10, 80, n), rng.uniform(-20, 20, n), rng.uniform(0, 35, n),
        rng.uniform(-25, 25, n), rng.uniform(-25, 25, n), rng.uniform(-50, 50, n),
        rng.uniform(-30, 30, n),
    )  # fmt: skip
    drawn = replace(draw_parameters(n, rng), face_friction=0.1)  # some grip, some slip
    contact = strike(delivery, drawn, head)
    assert 0.1 < contact.slipping.mean() < 0.9
    lanes, vectors = impact(delivery, drawn, head), ball_after(contact)
    for name in ("ball_speed_mps", "launch_deg", "spin_rpm", "side_deg"):
        np.testing.assert_allclose(
            getattr(lanes, name), getattr(vectors, name), rtol=1e-12, atol=1e-12, err_msg=name
        )
    turned = (lanes.axis_deg - vectors.axis_deg + 180.0) % 360.0 - 180.0
    assert np.abs(turned).max() < 1e-10  # degrees


def test_impact_keeps_a_gap_to_its_own_shot():
    delivery = Delivery(45.0, 0.0, np.array([13.0, np.nan, 13.0]))
    ball = impact(delivery, PARAMETERS, STANDARD)
    assert np.isnan(ball.spin_rpm[1])
    assert ball.spin_rpm[0] == ball.spin_rpm[2] > 1000.0


def test_angles_of_any_size_are_taken():
    near = impact(Delivery(45.0, -3.0, 13.0, 2.0, 1.0), PARAMETERS, STANDARD)
    far = impact(Delivery(45.0, 357.0, 373.0, -358.0, 361.0), PARAMETERS, STANDARD)
    assert far.launch_deg == pytest.approx(float(near.launch_deg), abs=1e-9)
    assert far.spin_rpm == pytest.approx(float(near.spin_rpm), rel=1e-9)


def test_central_collinear_impact_is_exact():
    # Two masses in line: v = V (1 + e) M / (M + m), worked by hand for a square face.
    speed = 45.0
    ball = impact(Delivery(speed, 0.0, 0.0), PARAMETERS, STANDARD)
    restitution = 0.8498121923456406 - 0.002 * (speed - 48.77)
    assert ball.ball_speed_mps == pytest.approx(
        speed * (1 + restitution) * 0.210 / (0.210 + 0.04593), rel=1e-12
    )
    assert ball.launch_deg == pytest.approx(0.0, abs=1e-9)
    assert ball.side_deg == pytest.approx(0.0, abs=1e-9)
    assert ball.spin_rpm == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("turned_deg", [-6.0, 0.0, 3.0])
def test_path_along_the_face_at_centre_starts_straight_without_side_spin(turned_deg):
    ball = impact(
        Delivery(50.0, 0.0, 12.0, path_deg=turned_deg, face_deg=turned_deg), PARAMETERS, STANDARD
    )
    assert ball.side_deg == pytest.approx(turned_deg, abs=1e-9)
    assert ball.axis_deg == pytest.approx(0.0, abs=1e-9)


def test_mirrored_delivery_gives_the_mirrored_ball():
    still = replace(PARAMETERS, closure_per_s=0.0)  # a turning head is itself not symmetric
    one = scattered_deliveries()
    other = replace(
        one,
        path_deg=-one.path_deg,
        face_deg=-one.face_deg,
        strike_toe_mm=-one.strike_toe_mm,
    )
    a, b = impact(one, still, STANDARD), impact(other, still, STANDARD)
    np.testing.assert_allclose(a.ball_speed_mps, b.ball_speed_mps, rtol=1e-12)
    np.testing.assert_allclose(a.launch_deg, b.launch_deg, rtol=1e-10)
    np.testing.assert_allclose(a.spin_rpm, b.spin_rpm, rtol=1e-10)
    np.testing.assert_allclose(a.side_deg, -np.asarray(b.side_deg), atol=1e-9)
    np.testing.assert_allclose(a.axis_deg, -np.asarray(b.axis_deg), atol=1e-8)


@pytest.mark.parametrize("friction", [0.40, 0.05], ids=["grips", "slips"])
def test_contact_parts_at_the_restitution_whether_it_grips_or_slips(friction):
    contact = strike(scattered_deliveries(), replace(PARAMETERS, face_friction=friction), STANDARD)
    head_point, ball_point, _, _ = velocities_after(contact, STANDARD)
    normal = rows(contact.normal)
    before = (rows(contact.closing) * normal).sum(-1)
    after = ((ball_point - head_point) * normal).sum(-1)
    np.testing.assert_allclose(after, contact.restitution * before, rtol=1e-9)


def test_gripping_contact_with_true_coupling_keeps_the_tangential_restitution():
    # With a gear gain of 1 the tangential law is Newton's: slip after = -e_t slip before.
    true = replace(PARAMETERS, gear_gain=1.0, face_friction=10.0)
    contact = strike(scattered_deliveries(), true, STANDARD)
    head_point, ball_point, _, _ = velocities_after(contact, STANDARD)
    for tangent in (rows(contact.toeward), rows(contact.upface)):
        before = (rows(contact.closing) * tangent).sum(-1)
        after = ((head_point - ball_point) * tangent).sum(-1)
        np.testing.assert_allclose(after, 0.12791330437783102 * before, rtol=1e-8, atol=1e-9)


def test_slipping_contact_rubs_at_coulombs_limit():
    contact = strike(scattered_deliveries(), replace(PARAMETERS, face_friction=0.02), STANDARD)
    impulse, normal = rows(contact.impulse), rows(contact.normal)
    push = (impulse * normal).sum(-1)
    rub = np.linalg.norm(impulse - push[:, None] * normal, axis=-1)
    assert contact.slipping.mean() > 0.5
    np.testing.assert_allclose(rub[contact.slipping], 0.02 * push[contact.slipping], rtol=1e-9)
    assert np.all(rub <= 0.02 * push * (1 + 1e-9))


def test_linear_and_angular_momentum_pass_from_head_to_ball():
    delivery = scattered_deliveries()
    contact = strike(delivery, PARAMETERS, STANDARD)
    ball = ball_after(contact)
    launch, side = np.radians(ball.launch_deg), np.radians(ball.side_deg)
    along = np.stack(
        [np.cos(launch) * np.cos(side), -np.cos(launch) * np.sin(side), np.sin(launch)], -1
    )
    momentum = BALL_MASS_KG * ball.ball_speed_mps[:, None] * along
    np.testing.assert_allclose(momentum, rows(contact.impulse), rtol=1e-9, atol=1e-10)

    # About the head's centre of gravity: what the ball's orbit and spin gain, the head loses.
    arm, normal = rows(contact.arm), rows(contact.normal)
    lost = np.cross(arm, rows(contact.impulse))
    orbit = np.cross(arm + BALL_RADIUS_M * normal, momentum)
    spin = (lost - orbit) / (0.4 * BALL_MASS_KG * BALL_RADIUS_M**2)
    spin -= (spin * along).sum(-1, keepdims=True) * along  # rifle spin is left out on purpose
    np.testing.assert_allclose(np.linalg.norm(spin, axis=-1) * 30 / np.pi, ball.spin_rpm, rtol=1e-9)
    # The lift direction, spin x flight, leans toward the open side (-y here) by the axis tilt.
    lift = np.cross(spin, along)
    left = np.stack([np.sin(side), np.cos(side), 0 * side], -1)
    up = np.cross(along, left)
    tilt = np.degrees(np.arctan2(-(lift * left).sum(-1), (lift * up).sum(-1)))
    np.testing.assert_allclose(tilt, ball.axis_deg, atol=1e-7)


def test_impact_makes_no_energy():
    delivery = scattered_deliveries()
    contact = strike(delivery, PARAMETERS, STANDARD)
    _, _, turn, spin = velocities_after(contact, STANDARD)
    mass = STANDARD.mass_kg + STANDARD.shaft_mass_kg
    impulse = rows(contact.impulse)
    # Work of the impulse on the moving contact point, less what the ball and the turning head
    # then hold; the head's own forward motion enters through its loss.
    given = (impulse * rows(contact.closing)).sum(-1)
    ball = 0.5 * (impulse**2).sum(-1) / BALL_MASS_KG + 0.5 * (
        0.4 * BALL_MASS_KG * BALL_RADIUS_M**2
    ) * (spin**2).sum(-1)
    axes = [rows(axis) for axis in contact.head_axes]
    moments = (2.8e-4, 3.2e-4, 4.8e-4)
    head = 0.5 * (impulse**2).sum(-1) / mass + 0.5 * sum(
        m * ((turn * a).sum(-1)) ** 2 for m, a in zip(moments, axes, strict=True)
    )
    assert np.all(given - ball - head > 0.0)


def test_signs_are_the_players_own():
    square = impact(Delivery(45.0, 0.0, 13.0), PARAMETERS, STANDARD)
    open_face = impact(Delivery(45.0, 0.0, 13.0, face_deg=3.0), PARAMETERS, STANDARD)
    in_to_out = impact(Delivery(45.0, 0.0, 13.0, path_deg=3.0), PARAMETERS, STANDARD)
    toe = impact(Delivery(45.0, 0.0, 13.0, strike_toe_mm=12.0), PARAMETERS, STANDARD)
    high = impact(Delivery(45.0, 0.0, 13.0, strike_up_mm=6.0), PARAMETERS, STANDARD)
    assert open_face.side_deg > 1.5
    assert open_face.axis_deg > 3.0
    assert 0.0 < in_to_out.side_deg < 1.5
    assert in_to_out.axis_deg < -3.0
    assert toe.side_deg > 0.5
    assert toe.axis_deg < -5.0  # gear effect curves it back
    assert high.launch_deg > square.launch_deg + 0.5
    assert high.spin_rpm < square.spin_rpm - 300.0


def test_share_of_start_direction_toward_the_face_is_a_drivers():
    # Wood, Henrikson & Broadie 2018, Proceedings 2(6):249: .61 to .83, driver at the high end.
    ball = impact(Delivery(50.0, 0.0, 12.0, face_deg=1.0), PARAMETERS, STANDARD)
    assert 0.72 <= float(ball.side_deg) <= 0.85


@pytest.mark.parametrize(
    ("delivery", "change", "rpm"),
    # The same equations worked out in a separate program.
    [
        (Delivery(95 * MPH, -2.0, 15.0), {"strike_up_mm": 1.0}, -75.0),
        (Delivery(118 * MPH, -1.0, 12.5), {"strike_up_mm": 1.0}, -92.0),
    ],
)
def test_spin_per_millimetre_of_strike_height(delivery, change, rpm):
    before = impact(delivery, PARAMETERS, STANDARD).spin_rpm
    after = impact(replace(delivery, **change), PARAMETERS, STANDARD).spin_rpm
    assert after - before == pytest.approx(rpm, abs=2.0)


def test_lower_rated_face_gives_a_slower_ball_in_proportion():
    rated = impact(Delivery(45.0, 0.0, 0.0), PARAMETERS, replace(STANDARD, cor=0.810))
    full = impact(Delivery(45.0, 0.0, 0.0), PARAMETERS, STANDARD)
    restitution = 0.8498121923456406 - 0.002 * (45.0 - 48.77)
    expected = (1 + restitution - 0.020) / (1 + restitution)
    assert rated.ball_speed_mps / full.ball_speed_mps == pytest.approx(expected, rel=1e-12)


def test_delivered_loft_follows_attack():
    assert delivered_loft(13.0, -2.0, 3.0, 0.7) == pytest.approx(16.5)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        # R&A/USGA equipment rules: 5900 g cm2 + 100, restitution .822 + .008.
        ({"moi_vertical_axis_kg_m2": 6.1e-4}, "at most 6000 g cm2"),
        ({"cor": 0.831}, "at most 0.830"),
        ({"cor": float("nan")}, "restitution"),
        ({"moi_heel_toe_axis_kg_m2": 6.01e-4}, "heel-toe axis: found 6010 g cm2"),
        ({"moi_face_normal_axis_kg_m2": float("nan")}, "face-normal"),
        ({"cg_height_m": 0.02}, "height"),
        ({"face_loft_deg": 90.0}, "face loft"),
        ({"mass_kg": float("nan")}, "head mass"),
        ({"cg_depth_m": 0.5}, "depth"),
    ],
)
def test_head_outside_the_rules_is_refused(change, words):
    with pytest.raises(DriveInputError, match=words):
        Head(**change)


def test_presets_are_inside_the_rules_and_low_spin_spins_less():
    assert set(HEADS) >= {"standard", "forgiving", "low-spin"}
    assert all(head.moi_vertical_axis_kg_m2 <= 6.0e-4 for head in HEADS.values())
    delivery = Delivery(50.0, 0.0, 13.0)
    standard = impact(delivery, PARAMETERS, STANDARD).spin_rpm
    assert impact(delivery, PARAMETERS, LOW_SPIN).spin_rpm < standard - 150.0


def test_forgiving_head_loses_less_speed_off_centre():
    off = Delivery(45.0, 0.0, 13.0, strike_toe_mm=-20.0)
    forgiving = impact(off, PARAMETERS, head_named("forgiving")).ball_speed_mps
    assert forgiving > impact(off, PARAMETERS, STANDARD).ball_speed_mps


def test_unknown_head_lists_the_heads_there_are():
    with pytest.raises(DriveInputError, match="standard, forgiving, low-spin, light"):
        head_named("magic")


def test_higher_and_toeward_strikes_close_at_their_own_speed():
    # 10 mm toward the toe at 55 1/s: .55 m/s faster; 10 mm up at -10 1/s: .10 m/s slower.
    def closing(**strike_at):
        contact = strike(Delivery(45.0, 0.0, 0.0, **strike_at), PARAMETERS, STANDARD)
        return float(contact.closing.x)  # the face is square and upright at its centre

    assert closing() == pytest.approx(45.0)
    assert closing(strike_toe_mm=10.0) == pytest.approx(45.55)
    assert closing(strike_up_mm=10.0) == pytest.approx(44.90)
