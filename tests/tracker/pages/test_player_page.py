"""The player's verdict is in words, with its interval, its units and what would settle it."""

import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from tests.fits import BROKEN, noise, with_info
from tests.pages import drawn_by
from tracker.decisions.distance.change_worth import ChangeWorth
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.verdict.consistency import ConsistencyVerdict
from tracker.decisions.verdict.consistency_words import consistency_words
from tracker.decisions.verdict.threshold import DEFAULT, Threshold
from tracker.decisions.verdict.verdict import Verdict, WindowSummary
from tracker.decisions.verdict.verdict_words import directions
from tracker.interval import Interval
from tracker.pages.player import HOW_TO_READ_CHANGE, HOW_TO_READ_TREND
from tracker.pages.player_view import Beside, player_view
from tracker.pages.shared.judging import limit_words
from tracker.player_trait import UnloggedChange
from tracker.words import VERDICT_WORDS

VERDICT = Verdict(
    player="Cedar",
    trait="strike_up_mm",
    before=WindowSummary(date(2026, 1, 5), date(2026, 1, 14), 2, 30),
    after=WindowSummary(date(2026, 1, 15), date(2026, 1, 26), 2, 30),
    change=Interval(4.1, 1.2, 7.0, "mm"),
    p_better=0.995,
    p_worthwhile=0.93,
    p_no_worthwhile=0.02,
    worthwhile=1.6,
    worthwhile_basis="worth 2 m of carry",
    verdict="real-worthwhile",
    direction="better",
    settle="Settled: one session a month shows whether it holds.",
    guards=(),
    raw_change=5.3,
    threshold=0.99,
    problems=(),
)


def draw(view):
    from tracker.pages.player import render

    render(view)


def text_of(page):
    return " ".join([*(m.value for m in page.markdown), *(c.value for c in page.caption)])


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("real-worthwhile", "Yes, this is real."),
        ("real-size-unclear", "Real, but how big is not settled."),
        ("no-worthwhile-change", "No change that matters."),
        ("leaning", "Leaning, keep going."),
        ("cannot-tell", "Too early to say."),
    ],
)
def test_headline_is_the_verdict_in_words(fit, verdict, words):
    assert player_view(fit, replace(VERDICT, verdict=verdict), "yards").headline == words


def test_sentence_has_size_direction_interval_and_unit(fit):
    assert player_view(fit, VERDICT, "yards").lead == (
        "Cedar: strike height moved about 4.1 mm toward the crown "
        "(90 % sure between 1.2 and 7.0 mm), which is better."
    )


WORTH = ChangeWorth(TOWARD, Interval(4.572, 0.9144, 8.2296, "m"))


def test_what_the_move_is_worth_is_said_in_the_readers_units_with_its_range(fit):
    beside = Beside(worth=WORTH)
    assert player_view(fit, VERDICT, "yards", beside).worth == (
        "The move is worth +5 yd toward the target (90 % sure between +1 and +9 yd), all else as "
        "it is today."
    )
    assert "+5 m toward the target (90 % sure between +1 and +8 m)" in (
        player_view(fit, VERDICT, "metres", beside).worth
    )


def test_a_verdict_in_doubt_has_no_worth(fit):
    doubtful = replace(VERDICT, problems=("7 divergent draws.",))
    assert player_view(fit, doubtful, "yards", Beside(worth=WORTH)).worth == ""


def test_how_sure_a_larger_and_a_smaller_change_are_is_said_of_the_size_alone(fit):
    """A change past the target is large and may be worth nothing: no word on what it is worth."""
    assert player_view(fit, VERDICT, "yards").change_text == (
        "Changes smaller than 1.6 mm either way are too small to matter here (worth 2 m of carry). "
        "A larger one: about 9 in 10; one as small as that: about 1 in 20."
    )


def test_move_down_is_said_as_a_size_and_a_direction(fit):
    down = replace(VERDICT, change=Interval(-4.1, -7.0, -1.2, "mm"), direction="worse")
    assert player_view(fit, down, "yards").lead == (
        "Cedar: strike height moved about 4.1 mm toward the sole "
        "(90 % sure between 1.2 and 7.0 mm), which is worse."
    )


def test_unsure_direction_is_said_both_ways(fit):
    unsure = replace(VERDICT, change=Interval(0.5, -1.0, 2.0, "mm"), direction=None)
    assert player_view(fit, unsure, "yards").lead == (
        "Cedar: strike height moved about 0.5 mm toward the crown "
        "(90 % sure between 1.0 mm toward the sole and 2.0 mm toward the crown)."
    )


def test_speed_is_shown_in_the_readers_unit(fit):
    faster = replace(
        VERDICT,
        trait="club_speed_mps",
        change=Interval(0.89408, 0.44704, 1.34112, "m/s"),
        worthwhile=0.5,
    )
    # 0.44704 m/s = 1 mph; 0.89408 m/s = 3.218688 km/h
    assert "about 2.0 mph faster (90 % sure between 1.0 and 3.0 mph)" in (
        player_view(fit, faster, "yards").lead
    )
    assert "about 3.2 km/h faster" in player_view(fit, faster, "metres").lead


def test_pictures_hold_the_fit(fit):
    view = player_view(fit, VERDICT, "yards")
    assert [round(p.median, 1) for p in view.trend.level] == pytest.approx(
        [-8.0, -8.2, -4.0, -3.8], abs=0.1
    )
    assert [c.name for c in view.trend.changes] == ["tee it higher"]
    assert [w.name for w in view.trend.windows] == ["before", "after"]
    # means of two sessions each: (-8.0 - 8.2) / 2 = -8.1 and (-4.0 - 3.8) / 2 = -3.9
    assert np.mean(view.change.before) == pytest.approx(-8.1, abs=0.01)
    assert np.mean(view.change.change) == pytest.approx(4.2, abs=0.01)
    assert view.change.worthwhile == 1.6


def test_noise_is_told_apart_in_plain_words(fit):
    shot, day, reading = player_view(fit, VERDICT, "yards").noise
    assert "two shots in three land within 6.5 mm" in shot
    assert "shift a whole session by about 2.6 mm" in day
    assert "More shots on the same day do not average it out" in day
    assert "(photo)" in reading
    assert "2.0 mm" in reading


def test_raw_difference_is_only_in_the_detail(fit):
    view = player_view(fit, VERDICT, "yards")
    assert "5.3" not in view.headline + view.lead + view.settle
    assert any("+5.3 mm" in line and "not used" in line for line in view.why)


SCATTER = ConsistencyVerdict(
    player="Cedar",
    trait="strike_up_mm",
    before=VERDICT.before,
    after=VERDICT.after,
    sd_before=Interval(8.0, 7.0, 9.2, "mm"),
    sd_after=Interval(6.0, 5.2, 7.0, "mm"),
    ratio=Interval(0.75, 0.62, 0.91, ""),
    p_smaller=0.996,
    p_worthwhile=0.94,
    p_no_worthwhile=0.05,
    verdict="real-worthwhile",
    direction="tighter",
    guards=(),
    threshold=0.995,
    settle="Settled for these dates.",
)


def test_scatter_has_its_own_verdict_its_interval_and_what_would_settle_it(fit):
    view = player_view(fit, VERDICT, "yards", Beside(scatter=SCATTER))
    assert view.scatter.words == "Yes, the shots are closer together."
    assert view.scatter.sentence == (
        "Two shots in three now lie within 6.0 mm (90 % sure between 5.2 and 7.0 mm) of the "
        "day's middle; before, within 8.0 mm (90 % sure between 7.0 and 9.2 mm). "
        "That is 25 % less scatter (90 % sure between 9 and 38 % less)."
    )
    assert view.scatter.settle.endswith("Settled for these dates.")
    page = drawn_by(draw, kwargs={"view": view}).run()
    assert "Are single shots closer together?" in [h.value for h in page.header]
    assert "Yes, the shots are closer together." in text_of(page)


def test_unsure_scatter_says_less_and_more(fit):
    unsure = replace(
        SCATTER, ratio=Interval(0.84, 0.66, 1.09, ""), verdict="cannot-tell", direction=None
    )
    text = player_view(fit, VERDICT, "yards", Beside(scatter=unsure)).scatter
    assert text.words == "Too early to say."
    assert "16 % less scatter (90 % sure between 34 % less and 9 % more)" in text.sentence


def test_every_verdict_on_scatter_has_words():
    ways = {"real-worthwhile", "real-size-unclear", "leaning"}
    said = {
        consistency_words(replace(SCATTER, verdict=verdict, direction=direction))
        for verdict in VERDICT_WORDS
        for direction in (("tighter", "looser") if verdict in ways else (None,))
    }
    assert len(said) == 8


def test_picture_shows_the_levels_that_were_judged(fit):
    before, after = np.linspace(-9, -7, 50), np.linspace(-3, -1, 50)
    view = player_view(fit, VERDICT, "yards", Beside(levels=(before, after)))
    assert np.mean(view.change.change) == pytest.approx(6.0)
    assert np.mean(view.change.before) == pytest.approx(-8.0)


def test_limit_is_said_with_its_reason():
    found = Threshold(0.9863, ever=0.0409, ever_high=0.0491, seasons=2002, neighbours=0.22)
    text = " ".join(limit_words(found, logged=True))
    assert "at least 98.63 % sure" in text
    assert "2,002 imagined seasons" in text
    assert "4.1 in 100" in text
    assert "fewer than 5.0 in 100" in text  # rounded up, so that it stays a limit
    assert "players with a logged change" in text
    usual = " ".join(limit_words(DEFAULT, logged=False))
    assert "at least 99 % sure" in usual
    assert "usual limit" in usual


def test_nothing_above_the_pictures_needs_statistics(fit):
    view = player_view(fit, VERDICT, "yards", Beside(scatter=SCATTER))
    jargon = r"\b(posterior|credible|prior|SD|threshold|P\(|sigma|standard error|quantile)\b"
    above = " ".join([view.headline, view.lead, view.settle, view.scatter.sentence])
    above += HOW_TO_READ_TREND + HOW_TO_READ_CHANGE
    assert re.search(jargon, above) is None


def test_page_shows_picture_texts_and_guards(fit):
    view = player_view(fit, replace(VERDICT, guards=("Read by another method.",)), "yards")
    page = drawn_by(draw, kwargs={"view": view}).run()
    assert not page.exception
    assert [i.value for i in page.info] == ["Read by another method."]
    assert "too small to matter" in text_of(page)
    assert [h.value for h in page.header] == ["How sure is that?", "Where the noise comes from"]


def test_unlogged_change_is_said_beside_the_verdict_and_framed_in_the_trend(fit):
    size = 4.0 + 0.1 * noise(400, seed=3)
    seen = UnloggedChange(0.8, (date(2026, 1, 12), date(2026, 1, 19)), size)
    view = player_view(fit, replace(VERDICT, unlogged=seen), "yards")
    assert view.unlogged.startswith(
        "Something may have changed between 12 January 2026 and 19 January 2026 that nobody "
        "logged (about 8 in 10); if so, by +4.0 mm, 90 % sure between +3.8 and +4.2 mm"
    )
    surely = player_view(fit, replace(VERDICT, unlogged=replace(seen, chance=0.95)), "yards")
    assert surely.unlogged.startswith("Something changed between 12 January 2026")
    assert view.unlogged in view.trend_text
    frame = view.trend.unlogged
    assert (frame.start, frame.end) == seen.between
    assert frame.name == "change not logged"
    unlikely = player_view(fit, replace(VERDICT, unlogged=replace(seen, chance=0.3)), "yards")
    assert (unlikely.unlogged, unlikely.trend.unlogged) == ("", None)


def test_broken_fit_shows_no_number(fit):
    broken = with_info(fit, replace(fit.info, report=BROKEN))
    view = player_view(broken, replace(VERDICT, problems=broken.problems), "yards")
    assert view.headline == "No verdict from this fit."
    assert not any(c.isdigit() for c in view.headline + view.lead)
    page = drawn_by(draw, kwargs={"view": view}).run()
    assert not page.exception
    assert text_of(page).strip() == ""


def test_every_trait_has_words_for_both_ways(fit):
    for trait in fit.traits:
        more, less = directions(trait)
        assert more != less
