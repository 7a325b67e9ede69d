"""Effects are drawn with their ends, zero, and the size that matters in the same unit."""

from tests.tracker.charts.reading import encodings, layers, titles
from tracker.charts.effect import EffectRow, effect_chart
from tracker.charts.ink import tables_of
from tracker.interval import Interval

ROWS = (
    EffectRow("tee ladder", Interval(5.2, 3.4, 6.9, "mm"), 2.1),
    EffectRow("a new drill", Interval(1.6, -7.0, 10.0, "mm"), None, tried=False),
)


def drawn():
    return effect_chart(ROWS, "strike height", "toward the crown")


def test_every_change_has_its_interval_and_its_band():
    first, second = tables_of(drawn())["changes"]
    assert (first["effect"], first["low90"], first["high90"]) == (5.2, 3.4, 6.9)
    assert (first["matters_low"], first["matters_high"]) == (-2.1, 2.1)
    assert (second["matters_low"], second["_tried"]) == (None, False)


def test_zero_is_drawn_and_the_axis_has_its_unit():
    assert tables_of(drawn())["_zero"] == [{"_zero": 0}]
    assert any(layer["data"]["name"] == "_zero" for layer in layers(drawn()))
    assert titles(drawn()) == {"strike height (mm, + toward the crown)"}


def test_rows_keep_their_order_and_the_height_grows_with_them():
    (names,) = {tuple(e["scale"]["domain"]) for e in encodings(drawn()) if e["field"] == "_name"}
    assert names == ("tee ladder", "a new drill")
    one = effect_chart(ROWS[:1], "strike height", "toward the crown")
    assert drawn().height == 2 * one.height
