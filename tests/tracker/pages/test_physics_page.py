"""The physics page: misses worked out by hand, constants beside their prior, what to record."""

import numpy as np
import pytest

from tests.fits import BROKEN, make_fit, noise
from tests.pages import drawn_by
from tracker.decisions.checks.misses import miss
from tracker.pages.constants_view import published_moments
from tracker.pages.physics_view import MISS_COLUMNS, physics_view
from tracker.posterior import FACT
from tracker.units import display

YARD_M = 0.9144
PLAYERS = {name: {} for name in ("Alder", "Birch", "Cedar", "Dogwood", "Elm")}
LEARNED = {
    "restitution": 0.84 + 0.002 * noise(400, 5, seed=3),
    "drag_factor": 0.97 + 0.0025 * noise(400, seed=4),
    "lift_factor": 1.02 + 0.049 * noise(400, seed=5),
    "drag_spin": 0.25 + 0.01 * noise(400, seed=6),
}


def carries(errors_yd, published_yd=0.0):
    """One row a player: read 200, 210, ... yd; predicted shorter by the errors asked for."""
    return [
        (
            "carry_m", name, 0, (200 + 10 * i) * YARD_M, (200 + 10 * i - error) * YARD_M,
            (200 + 10 * i - error - published_yd) * YARD_M, 1.0 * YARD_M,
        )
        for i, (name, error) in enumerate(zip(PLAYERS, errors_yd, strict=True))
    ]  # fmt: skip


def fit_with(errors_yd=(3.0, -4.0, 0.0, 4.0, -3.0), published_yd=6.0):
    return make_fit(PLAYERS, physics=LEARNED, ball_check=carries(errors_yd, published_yd))


def draw(view):
    from tracker.pages.physics import render

    render(view)


def shown(view):
    page = drawn_by(draw, kwargs={"view": view}).run()
    assert not page.exception
    return page


def text_of(page):
    return " ".join([*(m.value for m in page.markdown), *(c.value for c in page.caption)])


def test_typical_miss_is_the_root_mean_square():
    found = miss(fit_with().ball_checks, display("distance", "yards"))
    # misses 3, -4, 0, 4, -3 yd: sqrt(50 / 5) = 3.162; published 6 yd more: 9, 2, 6, 10, 3
    assert found.learned.median == pytest.approx(np.sqrt(10))
    assert found.published.median == pytest.approx(np.sqrt((81 + 4 + 36 + 100 + 9) / 5))
    # read 200 .. 240: squares around 220 sum to 1000, so 1 - 50 / 1000
    assert found.explained.median == pytest.approx(0.95)
    assert found.luck.median == pytest.approx(1.0)
    assert found.learned.low90 <= found.learned.median <= found.learned.high90
    assert found.bias.median == pytest.approx(0.0, abs=1e-9)


def test_answer_is_a_sentence_with_units_and_an_interval():
    view = physics_view(fit_with(), "yards")
    assert view.headline.startswith("Carry is predicted to within about 3.2 yd (90 % sure between ")
    assert view.headline.endswith(" yd).")
    assert "by the published physics it is 6.8 yd" in view.lead  # sqrt(46) = 6.78


def test_share_within_a_player_leaves_the_players_own_means_out():
    # Alder read 200 and 210, Birch 230 and 240: 50 each around their means, 1000 around 220;
    # misses 3, 5 and -5, -3 (squares 68) are 1 either way around each player's own mean
    rows = [
        ("carry_m", name, session, read * YARD_M, (read - error) * YARD_M, read * YARD_M, 0.5)
        for name, session, read, error in (
            ("Alder", 0, 200, 3), ("Alder", 1, 210, 5),
            ("Birch", 0, 230, -5), ("Birch", 1, 240, -3),
        )
    ]  # fmt: skip
    found = miss(make_fit(PLAYERS, ball_check=rows).ball_checks, display("distance", "yards"))
    assert found.explained.median == pytest.approx(1 - 68 / 1000)
    assert found.own.median == pytest.approx(1 - 4 / 100)


def test_luck_of_few_shots_has_its_range_beside_it():
    """Sessions whose means are off by .5 and by 1.5 m: each resample lies between the two."""
    rows = [
        ("carry_m", name, session, 200.0, 200.0 + error, 200.0, error)
        for name, session, error in (
            ("Alder", 0, 0.5), ("Alder", 1, 1.5), ("Birch", 0, 0.5), ("Birch", 1, 1.5),
        )
    ]  # fmt: skip
    fit = make_fit(PLAYERS, ball_check=rows)
    found = miss(fit.ball_checks, display("distance", "metres")).luck
    assert found.median == pytest.approx(np.sqrt((0.25 + 2.25) / 2))
    assert 0.5 <= found.low90 < found.median < found.high90 <= 1.5
    luck = MISS_COLUMNS.index("Of it luck of few shots")
    shown_luck = physics_view(fit, "metres").misses[0][luck]
    assert shown_luck == f"1.1 m ({found.low90:.1f} to {found.high90:.1f})"


def test_share_is_not_made_up_where_players_have_one_session():
    view = physics_view(fit_with(), "yards")
    assert view.misses[0][-1] == "too few sessions"
    assert view.misses[0][-2].startswith("95 % (")


def test_units_follow_the_switch():
    metric = physics_view(fit_with(), "metres")
    # 3.162 yd = 2.892 m
    assert metric.headline.startswith("Carry is predicted to within about 2.9 m (90 % sure")
    assert metric.panels[0].unit == "m"
    assert metric.panels[0].observed[0] == pytest.approx(200 * YARD_M)
    everything = " ".join([metric.lead, *metric.remarks, *(c for r in metric.misses for c in r)])
    assert " yd" not in everything


def test_reading_that_is_always_off_is_said():
    off = physics_view(fit_with((8.0, 9.0, 7.0, 8.0, 8.0)), "yards")
    (said,) = [r for r in off.remarks if "than predicted on average" in r]
    assert said.startswith("Carry was read 8.0 yd (90 % sure between 7.")
    assert " yd) more than predicted on average: " in said
    assert not any("than predicted" in r for r in physics_view(fit_with(), "yards").remarks)


def test_constants_stand_beside_their_prior_with_what_the_balls_told():
    rows = {row[0]: row[1:] for row in physics_view(fit_with(), "yards").constants}
    learned, before, told = rows["Drag of the balls against the published ball"]
    # 1.645 x .0025 = .004 either way; prior 1 +- 1.645 x .025
    assert learned == "0.970 times (0.966 to 0.974)"
    assert before == "1.000 times (0.959 to 1.041)"
    assert told == "nearly everything"  # a tenth of the prior's SD is left
    assert rows["Lift of the balls against the published ball"][2] == "next to nothing"


def test_constant_by_player_gives_the_average_and_the_range():
    rows = {row[0]: row[1] for row in physics_view(fit_with(), "yards").constants}
    assert "; by player 0.840 to 0.840" in rows["How lively the face is (restitution)"]


def test_what_the_balls_identify_stands_first_with_unit_and_prior():
    facts = {
        "spin_rpm": (3000.0, 20.0), "spin_by_height_rpm_per_mm": (-80.0, 2.0),
        "spin_by_loft_rpm_per_deg": (200.0, 5.0), "ball_over_club_speed": (1.45, 0.002),
        "lost_toe_mps": (0.9, 0.05), "lost_heel_mps": (1.6, 0.05), "lost_low_mps": (1.2, 0.05),
    }  # fmt: skip
    drawn = {
        FACT + name: mean + sd * noise(400, seed=20 + i)
        for i, (name, (mean, sd)) in enumerate(facts.items())
    }
    view = physics_view(
        make_fit(PLAYERS, physics={**LEARNED, **drawn}, ball_check=carries([1.0] * 5)), "yards"
    )
    assert len(view.constants) == len(facts) + 3
    rows = {row[0]: row[1:] for row in view.constants}
    learned, before, told = rows["Ball speed lost 10 mm toward the toe"]
    # 1.645 x .05 = .08 either way
    assert learned.startswith("2.01 mph (1.8")  # .9 m/s over .44704
    assert before.endswith(")")
    assert " mph (" in before
    assert told in ("nearly everything", "much")
    assert rows["Spin with each mm struck higher"][0].startswith("-80 rpm per mm (-8")
    assert not any("balance point" in name for name in rows)


def test_flight_numbers_stand_apart():
    view = physics_view(fit_with(), "yards")
    assert [row[0] for row in view.flight] == ["Drag that spin adds"]
    assert len(view.constants) == 3


def test_published_column_holds_the_design_s_own_values():
    # physics notes: drag 1 +- .025, lift 1 +- .05, loft follows attack .7 (.25), CG height sd 3 mm
    published = published_moments()
    assert published["drag_factor"] == pytest.approx((1.0, 0.025))
    assert published["lift_factor"] == pytest.approx((1.0, 0.05))
    assert published["loft_follows_attack"] == pytest.approx((0.7, 0.25))
    assert published["cg_height_m"] == pytest.approx((0.0, 0.003))
    # restitution .850 (sd .008)
    assert published["restitution"] == pytest.approx((0.850, 0.008), abs=0.002)


def test_page_shows_picture_tables_and_how_to_read_them():
    page = shown(physics_view(fit_with(), "yards"))
    assert "Each dot is one session's average" in text_of(page)
    misses, constants, _ = (t.value for t in page.table)
    assert misses.loc[0, "Quantity"] == "Carry"
    assert misses.loc[0, "Sessions"] == "5"
    assert "yd" in misses.loc[0, "Typical miss, learned physics"]
    assert len(constants) == 3


def test_without_balls_the_page_says_what_serves_and_what_to_record():
    view = physics_view(make_fit({"Alder": {}}), "yards")
    assert view.headline == "No ball data: the published physics serves."
    assert "gains, being differences, much less" in view.lead
    # the published constants alone leave the level open by some 6 yd (design's own estimate)
    doubt = float(view.lead.split("about ")[1].split(" yd")[0])
    assert 3 <= doubt <= 10
    page = shown(view)
    assert not page.table
    assert "ball speed, launch angle and spin" in text_of(page)


def test_ball_data_that_the_fit_has_not_used_is_not_denied():
    view = physics_view(make_fit({"Alder": {}}), "yards", ball_shots=40)
    assert view.headline == (
        "40 shots with ball data stored, not used by this fit: the published physics serves."
    )
    assert any("Fit again" in wanted for wanted in view.wanted)


def test_broken_fit_shows_no_number():
    view = physics_view(make_fit({"Alder": {}}, report=BROKEN, physics=LEARNED), "yards")
    assert view.problems
    assert not any(c.isdigit() for c in view.headline + view.lead)
    assert not shown(view).table
