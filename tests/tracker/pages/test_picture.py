"""A picture on a page: a line under it, words for those who cannot see, files made when asked."""

import json

from tests.pages import drawn_by
from tests.tracker.charts.test_intervals_drawn import GAINS
from tracker.charts import export
from tracker.pages.shared import picture as drawing


def show(rows):
    from tracker.charts.gain import gain_chart
    from tracker.pages.shared.picture import picture

    picture(gain_chart(rows), "gains", "Thick: 50 % sure.", "strike height 7 yd", "Read it so.")


def page():
    return drawn_by(show, kwargs={"rows": GAINS}).run()


def test_picture_stands_over_a_line_and_says_itself_in_words():
    shown = page()
    assert not shown.exception
    (chart,) = shown.get("vega_lite_chart")
    assert chart.proto.alt == "Thick: 50 % sure. Read it so. strike height 7 yd"
    assert shown.caption[0].value == "Thick: 50 % sure."
    assert "Read it so." in {m.value for m in shown.markdown}


def test_dates_and_numbers_stand_beside_their_layer_so_that_the_browser_reads_them():
    (chart,) = page().get("vega_lite_chart")
    spec = json.loads(chart.proto.spec)
    assert spec["layer"][1]["data"]["values"][0]["median"] == 7
    assert not chart.proto.datasets


def test_three_files_are_offered_and_none_is_made_before_it_is_asked_for(monkeypatch):
    made = []
    for name in ("svg", "png", "csv"):
        monkeypatch.setattr(export, name, lambda *_, name=name: made.append(name) or "")
    shown = page()
    labels = [button.proto.label for button in shown.get("download_button")]
    assert labels == ["Picture (PNG)", "Drawing (SVG)", "Numbers (CSV)"]
    assert made == []
    assert drawing.export is export
