"""Where the drives land is said with the corridor and the lever; left-handers are mirrored."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import make_fit
from tracker.decisions.distance.landing import Spread, Spreads
from tracker.pages.drives import drives_view
from tracker.report.figures import drives_of

NOW = Spread(np.full((1, 4), 200.0), np.array([[20.0, 10.0, -10.0, -20.0]]))
AFTER = Spread(np.full((1, 4), 210.0), np.array([[14.0, 10.0, -10.0, -20.0]]))


def test_shares_inside_are_said_with_width_and_lever():
    spreads = Spreads(NOW, AFTER)
    fit = make_fit({"Ana": {"strike_up_mm": -5.0}})
    drives = drives_of(fit, "Ana", spreads, 30.0, "yards")
    view = drives_view(drives, spreads, "tee it higher", 30.0, "yards")
    assert view.sentence == (
        "Inside a corridor 33 yd wide land now about 50 in 100 drives (90 % sure between 50 and 50)"
        "; after tee it higher about 75 in 100 drives (90 % sure between 75 and 75)."
    )
    assert "tee it higher" in view.caption
    assert drives.unit == "yd"
    assert drives.corridor == pytest.approx(32.81, abs=0.01)  # 30 / 0.9144


def test_without_a_lever_only_now_is_said():
    spreads = Spreads(NOW, None)
    fit = make_fit({"Ana": {"strike_up_mm": -5.0}})
    view = drives_view(drives_of(fit, "Ana", spreads, 30.0, "metres"), spreads, "", 30.0, "metres")
    assert view.sentence.startswith(
        "Inside a corridor 30 m wide land now about 50 in 100 drives (90 % sure"
    )
    assert "after" not in view.caption


def test_open_face_side_is_right_for_a_right_hander_and_left_for_a_left_hander():
    right = make_fit({"Ana": {"strike_up_mm": -5.0}})
    left = replace(right, players=(replace(right.players[0], handed="left"),))
    spreads = Spreads(NOW, None)
    assert drives_of(right, "Ana", spreads, 30.0, "metres").now.right[0, 0] == 20.0
    assert drives_of(left, "Ana", spreads, 30.0, "metres").now.right[0, 0] == -20.0
