"""Effects are drawn with their ends, zero, and the size that matters in the same unit."""

from tracker.charts.effect import EffectRow, effect_chart
from tracker.interval import Interval

ROWS = (
    EffectRow("tee ladder", Interval(5.2, 3.4, 6.9, "mm"), 2.1),
    EffectRow("a new drill", Interval(1.6, -7.0, 10.0, "mm"), None, tried=False),
)


def drawn():
    return effect_chart(ROWS, "strike height", "toward the crown").to_dict()


def tables(spec):
    return [layer["data"]["values"] for layer in spec["layer"]]


def test_every_change_has_its_interval_and_its_band():
    first, second = tables(drawn())[0]
    assert (first["effect"], first["low90"], first["high90"]) == (5.2, 3.4, 6.9)
    assert (first["matters_low"], first["matters_high"]) == (-2.1, 2.1)
    assert (second["matters_low"], second["tried"]) == (None, False)


def test_zero_is_drawn_and_the_axis_has_its_unit():
    spec = drawn()
    assert [{"zero": 0}] in tables(spec)
    assert spec["layer"][2]["encoding"]["x"]["title"] == "strike height (mm, + toward the crown)"


def test_rows_keep_their_order_and_the_height_grows_with_them():
    assert drawn()["layer"][0]["encoding"]["y"]["sort"] is None
    one = effect_chart(ROWS[:1], "strike height", "toward the crown").to_dict()
    assert drawn()["height"] == 2 * one["height"]
