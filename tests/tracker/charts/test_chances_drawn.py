"""The picture of chances: dots with their doubt, a line of agreement, the same in words."""

from tracker.charts.chances import ChancePoint, chance_chart, chance_text
from tracker.charts.ink import specification, tables_of

POINTS = (ChancePoint(55.0, 40.0, (20.0, 60.0), 12), ChancePoint(99.5, 98.0, (96.0, 99.0), 80))


def test_a_dot_stands_at_its_share_with_its_ends():
    chart = chance_chart(POINTS)
    row = tables_of(chart)["chances"][0]
    assert (row["said"], row["right"], row["low"], row["high"]) == (55.0, 40.0, 20.0, 60.0)
    agree, ends, dots = specification(chart)["layer"]
    assert (ends["encoding"]["y"]["field"], ends["encoding"]["y2"]["field"]) == ("low", "high")
    titles = [dots["encoding"][axis]["title"] for axis in ("x", "y")]
    assert titles == ["chance given (in 100)", "came right (in 100)"]
    # both axes reach from below the lowest end to certainty
    domains = [dots["encoding"][axis]["scale"]["domain"] for axis in ("x", "y")]
    assert domains == [[18.0, 101], [18.0, 101]]
    assert [v["said"] == v["right"] for v in agree["data"]["values"]] == [True, True]


def test_words_say_the_same_as_the_picture():
    assert chance_text(POINTS) == (
        "said 55 in 100, came right 40 in 100 (90 % sure between 20 and 60), 12 times; said 100 in "
        "100, came right 98 in 100 (90 % sure between 96 and 99), 80 times."
    )
