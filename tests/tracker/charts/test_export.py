"""A picture leaves as SVG, PNG and CSV, without a browser and without a network."""

import html
import io
import re
import socket

import pandas as pd
import pytest
from PIL import Image

from tests.tracker.charts.test_intervals_drawn import GAINS, RANKS, TREND
from tracker.charts import export
from tracker.charts.gain import GainRow, gain_chart
from tracker.charts.ink import Sheet, specification
from tracker.charts.rank import rank_chart
from tracker.charts.trend import trend_chart
from tracker.interval import Interval

CAPTION = "Thick: 50 % sure; thin: 90 % sure."


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    def refuse(*args, **kwargs):
        pytest.fail("a picture asked for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)


def texts(svg):
    return [html.unescape(text) for text in re.findall(r">([^<>]+)</t", svg)]


def test_svg_holds_the_words_and_takes_the_colour_of_its_surroundings():
    svg = export.svg(gain_chart(GAINS), CAPTION)
    assert {"strike height", "7 yd", CAPTION} <= set(texts(svg))
    assert "currentColor" in svg
    assert "http" not in svg.replace("http://www.w3.org", "")


def test_png_is_a_picture_on_white_at_twice_the_size():
    picture = Image.open(io.BytesIO(export.png(gain_chart(GAINS), CAPTION)))
    colours = picture.convert("RGB").getcolors(1_000_000)
    shares = {colour: count / picture.width / picture.height for count, colour in colours}
    assert picture.width > 2 * 560
    assert 0.7 < shares[(255, 255, 255)] < 0.999
    assert any(blue > red + 60 for (red, _, blue) in shares)  # the accent


def test_csv_holds_what_is_drawn_and_nothing_that_only_serves_the_drawing():
    table = pd.read_csv(io.BytesIO(export.csv(trend_chart(TREND))))
    level = table[table["what"] == "tendency"]
    assert level[["level", "low90", "high90"]].to_numpy().tolist() == [
        [-6.0, -7.5, -4.5],
        [-4.0, -5.6, -2.5],
    ]
    assert set(level["unit"]) == {"mm"}
    assert "logged changes" in set(table["what"])
    assert not [name for name in table if name.startswith("_")]
    assert not [name for name in table["what"] if name.startswith("_")]


def test_csv_of_ranks_names_players_and_places():
    table = pd.read_csv(io.BytesIO(export.csv(rank_chart(RANKS, "height", "up"))))
    assert table["player"].to_list() == ["Cedar", "Alder"]
    assert table["place_high90"].to_list() == [2, 3]


def test_csv_of_a_picture_is_not_run_by_a_spreadsheet():
    row = GainRow("=1+1|'calc'", Interval(-7, -13, 2, "yd"), Interval(15, 9, 22, "yd"))
    table = pd.read_csv(io.BytesIO(export.csv(gain_chart([row]))), dtype=str)
    cells = [cell for cell in table.to_numpy().ravel() if isinstance(cell, str)]
    assert "'=1+1|'calc'" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@"))]
    assert "-13" in cells  # a number stays one


HOSTILE = ("<script>alert(1)</script>", "#eval(1)", "datum['x']", "\\\\N", "a'b\"c", "{}", "$x$")


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_drawn_as_it_is_written(name):
    row = GainRow(name, Interval(7, 2, 13, "yd"), Interval(15, 9, 22, "yd"))
    assert "".join(texts(export.svg(gain_chart([row])))).count(name) >= 1


def test_every_table_stands_once_and_before_it_is_named_again():
    spec = specification(gain_chart(GAINS))
    held = [layer["data"] for layer in spec["layer"] if layer["data"]["name"] == "levers"]
    assert ["values" in data for data in held] == [True, *[False] * (len(held) - 1)]


def test_two_tables_of_one_name_are_refused():
    sheet = Sheet()
    sheet.drawn("shots", [])
    with pytest.raises(ValueError, match="'shots'"):
        sheet.drawn("shots", [])
