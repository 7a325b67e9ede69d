"""What works is said with its doubt, and what would settle it when nobody can tell."""

from dataclasses import replace
from datetime import date

import pytest

from tracker.decisions.season.what_works import Answer, NewDrill, NotJudged, TraitWorks, WorkedRow
from tracker.decisions.season.works_words import (
    answer_words,
    settle_words,
    share_words,
    way_words,
    works_headline,
    works_lead,
)
from tracker.interval import Interval

ANSWER = Answer(
    "Ann", date(2026, 3, 1), -6.0, Interval(-6.0, -7.0, -5.0, "mm"), 3.0, 1.0,
    Interval(5, 3, 7, "mm"), 2.0, 0.99, 0.6, 0.3, "helps",
)  # fmt: skip
ROW = WorkedRow(
    name="tee ladder", kind="drill", trait="strike_up_mm", way=1.0, other_way=0,
    effect=Interval(5.2, 3.4, 6.9, "mm"), spread=None, worthwhile=2.1, p_positive=0.99,
    p_helps=0.99, p_worthwhile=0.93, p_no_difference=0.07, helped=Interval(1.0, 0.71, 1.0, ""),
    unmoved=Interval(0.0, 0.0, 0.29, ""), effort_sessions=1.0,
    effect_per_session=Interval(5.2, 3.4, 6.9, "mm a session"), p_best=0.77, expected_regret=0.8,
    more_players=0, finding="helps-enough", answers=(ANSWER,) * 7,
)  # fmt: skip
NEW = NewDrill(
    "a new drill for strike height", Interval(1.6, -7.0, 10.0, "mm"), 1.0, 0.23, 4.4
)  # fmt: skip
UNSURE = replace(
    ROW, name="mirror", trait="path_deg", effect=Interval(0.4, -0.3, 1.1, "deg"), p_helps=0.82,
    p_worthwhile=0.3, finding="cannot-tell", more_players=3, worthwhile=0.5,
)  # fmt: skip


def works(*rows):
    return tuple(TraitWorks(row.trait, (row,), NEW) for row in rows)


def test_what_works_is_named_with_its_trait_effect_and_doubt():
    found = works(UNSURE, ROW)
    assert works_headline(found, logged=True) == "Tee ladder works for strike height."
    lead = works_lead(found, "yards", logged=True)
    assert "+5.2 mm (90 % sure between +3.4 and +6.9 mm) for 1 session of practice" in lead
    assert "about 9 in 10 that this is beyond the 2.1 mm that matter" in lead
    assert lead.endswith("A session of it is the best choice for the trait in about 8 in 10 cases.")


def test_where_an_untried_drill_may_give_more_that_is_said():
    slow = replace(ROW, p_best=0.1)
    assert works_lead(works(slow), "yards", logged=True).endswith(
        "A drill that nobody has tried may give more a session (about 2 in 10)."
    )


def test_several_that_work_are_all_named_surest_first():
    also = replace(UNSURE, finding="helps", p_worthwhile=0.5)
    assert works_headline(works(also, ROW), logged=True) == (
        "Tee ladder works for strike height; mirror works for club path."
    )


def test_nobody_can_tell_yet_comes_with_what_would_settle_it():
    found = works(UNSURE)
    assert works_headline(found, logged=True) == "Nobody can tell yet which change works."
    lead = works_lead(found, "yards", logged=True)
    assert "Nearest is mirror for club path" in lead
    assert "+0.4° (90 % sure between -0.3 and +1.1°)" in lead
    assert "At least 3 more players would settle it." in lead


def test_a_drill_that_surely_does_too_little_is_no_drill_that_works():
    small = replace(ROW, finding="no-difference")
    assert (
        works_headline(works(small), logged=True)
        == "Nothing logged so far works by enough to matter."
    )
    assert "No difference that matters: tee ladder for strike height" in works_lead(
        works(small), "yards", logged=True
    )


def test_without_a_change_it_says_what_to_do():
    assert works_headline((), logged=False).startswith("No change is logged yet")
    assert "--changes" in works_lead((), "yards", logged=False)


def test_changes_that_cannot_be_judged_are_not_said_to_be_missing():
    assert works_headline((), logged=True) == "No logged change can be judged from this fit."
    assert "Read more, then fit again" in works_lead((), "yards", logged=True)


@pytest.mark.parametrize(
    ("reason", "says", "advises"),
    [
        ("no-better-way", "More of it is neither better nor worse", "Player page"),
        ("in-doubt", "did not pass its checks", "fit again with more draws"),
        ("not-read", "Nobody has readings of it since", "read more, then fit again"),
    ],
)
def test_why_nothing_is_judged_is_said_with_what_helps(reason, says, advises):
    left_out = (NotJudged("strike_up_mm", ("tee ladder", "mat"), reason),)
    lead = works_lead((), "yards", logged=True, left_out=left_out)
    assert lead.startswith("Not judged for strike height: tee ladder, mat. ")
    assert says in lead
    assert advises in lead
    assert ("ead more" in lead) == (reason == "not-read")


def test_a_trait_on_which_nothing_was_logged_says_so():
    left_out = (NotJudged("path_deg", (), "none-logged"),)
    assert works_lead((), "yards", logged=True, left_out=left_out) == (
        "No logged change acts on club path."
    )


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (1, "At least 1 more player would settle it."),
        (None, "Going on like this would not settle it"),
    ],
)
def test_what_would_settle_it(more, words):
    assert words in settle_words(replace(UNSURE, more_players=more))


def test_shares_are_counted_in_players():
    assert share_words(Interval(0.5, 0.25, 0.75, ""), 8) == "4 of 8 (2 to 6)"


def test_a_drill_wanted_both_ways_says_so():
    assert way_words(ROW) == "toward the crown"
    assert way_words(replace(ROW, other_way=3)) == "toward the crown; the other way for 3 of 7"


def test_a_players_result_says_how_sure():
    assert answer_words(ANSWER) == "helped; how much is open"
    open_ = replace(ANSWER, finding="cannot-tell")
    assert answer_words(open_) == "can't tell yet: helped with a chance of about 6 in 10"
