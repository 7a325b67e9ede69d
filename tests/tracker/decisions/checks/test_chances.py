"""What the chances of an earlier fit have come to, with fits made by hand whose answer is known."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from tests.fits import BROKEN, CLEAN, day, make_fit, noise, with_info
from tests.tracker.decisions.promises.logbook import LADDER, after, before, promise
from tracker.decisions.checks.chance_words import (
    NOTHING_YET,
    bin_words,
    chance_rows,
    chances_json,
    chances_sentence,
    intervals_sentence,
    surety_words,
)
from tracker.decisions.checks.chances import ChanceRow, chance_book
from tracker.records import Change

UP = "strike_up_mm"
ONLY = (UP,)
N = 2000
THEN, NOW = (0, 7, 14, 21), (0, 7, 14, 21, 28, 35)


def paths(mean, days, *, sd, seed):
    """Draws of a level that is ``mean`` before the 14th day and 0 from then on."""
    wobble = sd * noise(N, seed=seed)
    return np.stack([mean + wobble if d < 14 else np.zeros(N) for d in days], axis=1)


def fit_of(by_player, days, number, **more):
    """A fit in which each player's level falls by draws of the given mean and SD."""
    levels = {
        name: {UP: paths(mean, days, sd=sd, seed=40 + i)}
        for i, (name, (mean, sd)) in enumerate(by_player.items())
    }
    made = make_fit(levels, days=days, samples=N, traits=ONLY, **more)
    return with_info(made, replace(made.info, fit_id=number))


def kind(found, wanted):
    return dict(found)[wanted]


def test_a_way_is_right_as_often_as_the_later_draws_agree():
    # then: 1 mm lower with SD 1, so 84 in 100; now: still 1 mm, SD .5, so 97.7 in 100
    book = chance_book(fit_of({"Ann": (1.0, 0.5)}, NOW, 2), [fit_of({"Ann": (1.0, 1.0)}, THEN, 1)])
    row = kind(book.kinds, "moved")
    assert (row.said, row.about) == (1, 1)
    assert row.claimed == pytest.approx(norm.cdf(1.0), abs=0.01)
    assert row.right == pytest.approx(norm.cdf(2.0), abs=0.01)
    # one thing is right or not in each draw, and in more than 19 of 20 it is
    assert (row.low90, row.high90) == (1.0, 1.0)
    assert (book.newest, book.fits) == (2, (1,))


def test_the_other_way_counts_as_wrong():
    book = chance_book(fit_of({"Ann": (-3.0, 0.5)}, NOW, 2), [fit_of({"Ann": (1.0, 1.0)}, THEN, 1)])
    row = kind(book.kinds, "moved")
    assert row.high90 == 0.0
    assert row.too_sure


def test_chances_that_came_right_as_often_as_said_are_as_sure_as_they_should_be():
    # fifty players at 84 in 100, of whom the later fit is sure that 42 moved that way
    names = [f"P{i:02d}" for i in range(50)]
    earlier = fit_of(dict.fromkeys(names, (1.0, 1.0)), THEN, 1)
    true = {name: (1.0 if i < 42 else -1.0, 0.1) for i, name in enumerate(names)}
    book = chance_book(fit_of(true, NOW, 2), [earlier])
    row = kind(book.kinds, "moved")
    assert row.said == row.about == 50
    assert row.right == pytest.approx(0.84, abs=0.01)
    # the Bayesian bootstrap of a share: SD sqrt(.84 * .16 / 51)
    assert row.low90 == pytest.approx(0.84 - 1.645 * 0.0513, abs=0.02)
    assert surety_words(row) == "as sure as they should be"
    half = {name: (1.0 if i < 25 else -1.0, 0.1) for i, name in enumerate(names)}
    wrong = kind(chance_book(fit_of(half, NOW, 2), [earlier]).kinds, "moved")
    assert surety_words(wrong) == "the chances were too sure"


def test_intervals_hold_with_the_later_chance_and_say_how_much_was_learned():
    # then 1 +- 1.645; now 1 with SD 2, of which a normal holds P(|z| < .8224) inside
    book = chance_book(fit_of({"Ann": (1.0, 2.0)}, NOW, 2), [fit_of({"Ann": (1.0, 1.0)}, THEN, 1)])
    row = kind(book.intervals, "moved")
    inside = 2 * norm.cdf(1.645 / 2) - 1
    assert row.claimed == 0.9
    assert row.right == pytest.approx(inside, abs=0.01)
    assert (row.low90, row.high90) == (0.0, 1.0)
    # the move's interval is twice as wide, that of the level (nil in both) as wide as it was
    assert book.narrowed == pytest.approx(1.5, abs=0.01)


def test_only_what_was_read_more_since_counts():
    same = fit_of({"Ann": (1.0, 0.5)}, THEN, 2)
    book = chance_book(same, [fit_of({"Ann": (1.0, 1.0)}, THEN, 1)])
    assert book.every is None
    assert chances_sentence(book) == NOTHING_YET
    assert intervals_sentence(book) == ""
    assert chances_json(book)["narrowed"] is None


def test_who_is_gone_or_in_doubt_or_has_other_sessions_is_left_out():
    earlier = fit_of({"Ann": (1.0, 1.0)}, THEN, 1)
    doubt = fit_of({"Ann": (1.0, 0.5)}, NOW, 2, reports={UP: BROKEN})
    assert chance_book(doubt, [earlier]).every is None
    broken = with_info(earlier, replace(earlier.info, reports={UP: BROKEN}))
    assert chance_book(fit_of({"Ann": (1.0, 0.5)}, NOW, 2), [broken]).every is None
    assert chance_book(fit_of({"Bo": (1.0, 0.5)}, NOW, 2), [earlier]).every is None
    others = fit_of({"Ann": (1.0, 0.5)}, (0, 6, 14, 21, 28, 35), 2, reports={UP: CLEAN})
    assert chance_book(others, [earlier]).every is None


def test_an_unlogged_change_is_the_one_that_lay_in_the_earlier_sessions():
    jump = np.where(np.arange(N) < 0.7 * N, 2, -1)
    earlier = fit_of({"Ann": (1.0, 1.0)}, THEN, 1, jumps={("Ann", UP): (jump, 3.0)})
    late = fit_of({"Ann": (1.0, 1.0)}, NOW, 2, jumps={("Ann", UP): (4, 3.0)})
    row = kind(chance_book(late, [earlier]).kinds, "unlogged")
    assert row.claimed == pytest.approx(0.7)
    assert row.high90 == 0.0  # it came after the sessions that the earlier fit had
    same = fit_of({"Ann": (1.0, 1.0)}, NOW, 2, jumps={("Ann", UP): (2, 3.0)})
    assert kind(chance_book(same, [earlier]).kinds, "unlogged").low90 == 1.0


def test_a_logged_change_is_judged_in_its_player_and_on_average():
    ladder = (Change("Ann", day(14), "drill", "ladder", UP),)

    def with_ladder(days, number, own, mean):
        return fit_of(
            {"Ann": (1.0, 1.0), "Bo": (0.0, 1.0)}, days, number, changes=ladder,
            change_effect={0: {UP: own + noise(N, seed=3)}},
            drill_effect={"ladder": {UP: mean + noise(N, seed=4)}},
        )  # fmt: skip

    book = chance_book(with_ladder(NOW, 2, -9.0, 9.0), [with_ladder(THEN, 1, -1.0, 1.0)])
    own, mean = (kind(book.kinds, k) for k in ("answer", "average"))
    assert (own.said, own.low90) == (1, 1.0)
    assert own.claimed == pytest.approx(norm.cdf(1.0), abs=0.01)
    assert (mean.said, mean.about, mean.low90) == (1, 1, 1.0)
    assert kind(book.intervals, "answer").high90 == 0.0  # 9 mm lie outside what was said


def test_a_promise_came_right_where_the_change_acts_toward_the_target():
    earlier = before()
    assert earlier.info.fit_id == 1
    right, wrong = (
        chance_book(with_info(made, replace(made.info, fit_id=2)), [earlier], [promise()])
        for made in (after(4.0 + 0.5 * noise(400, seed=5)), after(-4.0 + 0.5 * noise(400, seed=5)))
    )
    row = kind(right.kinds, "promise")
    assert (row.said, row.low90) == (1, 1.0)
    # the ladder is 5 mm on average, and players differ about it by 1 mm
    assert row.claimed > 0.95
    assert kind(wrong.kinds, "promise").high90 == 0.0
    other = promise(change=replace(LADDER, name="coin"))
    assert "promise" not in dict(chance_book(after(noise(400, seed=5)), [earlier], [other]).kinds)


def test_every_chance_is_in_one_bin_and_certainty_in_the_last():
    names = ["Ann", "Bo", "Cy"]
    earlier = fit_of({"Ann": (0.0, 1.0), "Bo": (1.0, 1.0), "Cy": (99.0, 1.0)}, THEN, 1)
    book = chance_book(fit_of(dict.fromkeys(names, (1.0, 1.0)), NOW, 2), [earlier])
    assert sum(row.said for _, _, row in book.bins) == book.every.said
    assert [bin_words(low, high) for low, high, _ in book.bins] == [
        "50 to 60 in 100", "80 to 90 in 100", "99 to 100 in 100",
    ]  # fmt: skip
    assert chance_rows(book)[0][0] == "50 to 60 in 100"
    assert "by the newest fit's lights" in chances_sentence(book)
    assert "One earlier fit gave" in chances_sentence(book)


def test_what_comes_right_more_often_than_said_could_have_been_surer():
    row = ChanceRow(80, 20, 0.6, 0.9, 0.85, 0.95)
    assert surety_words(row) == "the chances could have been surer"
    nearly = ChanceRow(80, 20, 0.996, 1.0, 1.0, 1.0)
    assert surety_words(nearly) == "as sure as they should be"
