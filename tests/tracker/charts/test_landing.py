"""Drives from above: to one scale, now and after apart by form, the corridor to size."""

import numpy as np
import pytest

from tests.tracker.charts.reading import encodings, layers, titles
from tests.tracker.charts.test_face_map import half
from tracker.charts.ink import tables_of
from tracker.charts.landing import DrivesFromAbove, Landings, landing_chart

RNG = np.random.default_rng(4)
NOW = Landings("now", RNG.normal(210, 10, (40, 20)), RNG.normal(0, 14, (40, 20)))
AFTER = Landings("after", RNG.normal(220, 9, (40, 20)), RNG.normal(0, 13, (40, 20)))
DRIVES = DrivesFromAbove("yd", NOW, AFTER, 33.0)


@pytest.mark.parametrize(("width", "height"), [(560, 420), (300, 420)])
def test_both_axes_have_one_scale_whatever_the_room(width, height):
    x, y = (
        next(e for e in encodings(landing_chart(DRIVES)) if e["field"] == field)
        for field in ("right", "carry")
    )
    across, along = (
        half(e["scale"]["domainMax"], width, height) - half(e["scale"]["domainMin"], width, height)
        for e in (x, y)
    )
    assert across / width == pytest.approx(along / height)
    assert half(x["scale"]["domainMax"], width, height) > 33 / 2


def test_corridor_lies_about_the_line_of_aim():
    (corridor,) = tables_of(landing_chart(DRIVES))["corridor"]
    assert (corridor["right"], corridor["_to"]) == (-16.5, 16.5)


def test_ring_holds_nine_in_ten_and_the_middle_is_the_mean():
    tables = tables_of(landing_chart(DRIVES))
    (middle,) = tables["after, middle"]
    assert middle["carry"] == pytest.approx(AFTER.carry.mean())
    ring = tables["after, 9 in 10"]
    # 90 % of a two-dimensional Normal: 2.146 SDs, here of 9 yd along
    assert max(p["carry"] for p in ring) == pytest.approx(220 + 2.146 * 9, abs=1.5)


def test_now_and_after_differ_by_form_and_not_by_colour_alone():
    marks = {
        layer["data"]["name"]: layer["mark"]
        for layer in layers(landing_chart(DRIVES))
    }  # fmt: skip
    assert marks["now"]["shape"] != marks["after"]["shape"]
    assert marks["now, 9 in 10"]["strokeDash"] != marks["after, 9 in 10"]["strokeDash"]


def test_dots_lie_as_widely_as_the_drives_they_stand_for():
    shots = np.tile(np.linspace(-30, 30, 24), (130, 1))  # the same shots in every draw
    now = Landings("now", np.full(shots.shape, 200.0) + shots / 10, shots)
    dots = tables_of(landing_chart(DrivesFromAbove("yd", now, None, 33.0)))["now"]
    assert len({dot["right"] for dot in dots}) == 24


def test_axes_say_sides_and_unit():
    across, along = sorted(titles(landing_chart(DRIVES)), reverse=True)
    assert along == "carry (yd)"
    assert across.startswith("← left")
    assert "yd" in across


def test_without_a_lever_only_the_drives_now_are_drawn():
    alone = landing_chart(DrivesFromAbove("m", NOW, None, 30.0))
    assert [name for name in tables_of(alone) if name.startswith("after")] == []
