"""A plan is said with its gain, its doubt, its cost and its cautions."""

from dataclasses import replace

from tests.tracker.decisions.season.plans import design, plan_of, retest
from tracker.decisions.distance.gain_answer import Measure
from tracker.decisions.season.plan_words import (
    COACH_DECIDES,
    block_text,
    block_title,
    left_out_words,
    load_words,
    plan_cautions,
    plan_headline,
    plan_lead,
    reading_brief,
    retest_words,
)

PLAN = plan_of(
    {"Ann": 4.572, "Cy": 0.1}, {"Ann": retest("Ann", design(6, 0.85))}
)  # 4.572 m are 5 yd


def test_the_answer_says_how_many_and_how_far():
    assert plan_headline(PLAN, "yards") == (
        "1 of 2 have a plan for 12 weeks from 7 September 2026, worth about +5.0 yd when added up."
    )
    lead = plan_lead(PLAN, "yards")
    assert lead.startswith("Together 90 % sure between +3 and +7 yd")
    assert "Measuring takes 6 sessions of players (90 shots in retests) and 6 of the coach's." in (
        lead
    )


def test_where_one_more_session_tells_most_is_said_in_yards():
    told = replace(PLAN, reading=("Ann", Measure("path_deg", 0.9144, True, False)))
    assert plan_lead(told, "yards").endswith(
        "One more measured session would change a decision most for Ann: club path, worth +1.0 yd "
        "on average."
    )
    first = replace(PLAN.planned[0].programme, reading=Measure("path_deg", 0.9144, True, True))
    assert reading_brief(first, "yards") == "first: club path, +1.0 yd"
    assert first.parts()[0] == ("measure", 1)


def test_nobody_to_plan_for_is_an_answer():
    nobody = plan_of({"Cy": 0.1}, {})
    assert plan_headline(nobody, "yards") == (
        "Nobody has anything to practise first in the next 12 weeks."
    )
    assert load_words(nobody) == ""


def test_a_fit_in_doubt_gives_no_number():
    doubtful = replace(PLAN, problems=("Physics: chains disagree.",))
    assert plan_headline(doubtful, "yards") == "No plan from this fit."
    assert "yd" not in plan_lead(doubtful, "yards")


def test_blocks_say_what_to_do_how_sure_and_what_to_take_care_of():
    (ann,) = PLAN.planned
    practice, again = ann.blocks
    assert block_title(ann, practice) == "Ann: practise tee ladder"
    assert block_title(ann, again) == "Ann: retest strike height"
    text = block_text(ann, practice, "yards")
    assert "2 sessions in 2 weeks." in text
    assert "juniors" in text
    assert "Stop when something hurts" in text
    assert "about 8 in 10 that this shows a change of +4.0 mm" in block_text(ann, again, "yards")
    assert text.endswith(COACH_DECIDES)


def test_cautions_are_said_once_and_a_coach_decides():
    cautions = plan_cautions(PLAN)
    assert len(cautions) == len(set(cautions))
    assert cautions[-1] == COACH_DECIDES


def test_weeks_are_said_to_be_full():
    tight = plan_of(
        {"Ann": 5.0, "Bo": 4.0}, {n: retest(n, design(6, 0.9)) for n in ("Ann", "Bo")}, sessions=2
    )
    assert load_words(tight) == (
        "The coach gives 16 of 24 sessions; 8 weeks are full. In one session one player practises, "
        "or one is measured."
    )


def test_a_change_no_retest_shows_says_so():
    (ann,) = plan_of({"Ann": 5.0}, {}).planned
    assert "none that fits would show it" in retest_words(ann.programme)


def test_who_is_left_out_learns_what_to_read_meanwhile():
    (cy,) = PLAN.left_out
    assert left_out_words(cy, "yards") == "no lever is expected to pay"
    told = replace(cy, reading=Measure("loft_deg", 0.9144, False, True))
    assert left_out_words(told, "yards") == (
        "no lever is expected to pay; meanwhile read delivered loft for the first time, "
        "worth +1.0 yd"
    )
