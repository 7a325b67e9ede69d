"""A player's page: next goal, drill, retest date, promise with its range, verdict, cautions."""

import re
from dataclasses import replace
from datetime import datetime

import pytest

from models.sampling.report import SamplerReport
from tests.fits import make_fit
from tests.tracker.report.papers import HIGHER, PRINTED, squad_fit
from tracker.decisions.distance.gain import player_gains
from tracker.errors import TrackerError
from tracker.report.html import as_html
from tracker.report.player_paper import player_paper
from tracker.report.setting import as_pdf

CHANGE = replace(HIGHER, player="Ann")
STRIKES = ((3.0, -9.0), (-2.0, -4.0), (5.0, -12.0))


def made(fit, player="Ann", **how):
    gains = player_gains(fit, player, draws=200, shots=16)
    settings = {"printed": PRINTED, "system": "yards"} | how
    return player_paper(fit, gains, STRIKES, lambda trait, logged: 0.95, **settings)


def text_of(paper):
    parts = [s for p in paper.parts for s in (p.heading, *p.sentences, *p.items)]
    return "\n".join((paper.headline, paper.lead, *parts))


@pytest.fixture(scope="module")
def ann():
    return made(squad_fit())


def test_the_goal_has_drill_retest_date_and_promise_with_its_range(ann):
    (goal,) = (part for part in ann.parts if part.heading == "The next goal")
    words = dict(item.split(": ", 1) for item in goal.items)
    assert set(words) == {"Goal", "Drill", "Promised", "Retest"}
    assert re.search(r"toward the target, [+-]?[\d.]+ to [+-]?[\d.]+ ?(mm|°)", words["Goal"])
    assert re.search(r"yd .*\(90 % sure between .* and .* yd\)", words["Promised"])
    assert "practice" in words["Drill"]


def test_without_a_lever_worth_acting_on_the_page_says_what_to_read():
    fit = squad_fit()
    gains = replace(
        player_gains(fit, "Ann", draws=200, shots=16), first=None, first_lever=None, unsure=True,
        lead="What seems best hangs on luck.", measure_next="Of readings, one more session.",
    )  # fmt: skip
    paper = player_paper(
        fit, gains, STRIKES, lambda trait, logged: 0.95, printed=PRINTED, system="yards"
    )
    assert (paper.headline, paper.lead) == ("Nothing to act on yet.", gains.lead)
    goal = next(part for part in paper.parts if part.heading == "The next goal")
    assert goal.sentences == ("Of readings, one more session.",)


def test_the_retest_lies_ahead_of_the_day_of_printing(ann):
    (retest,) = (i for p in ann.parts for i in p.items if i.startswith("Retest"))
    dates = re.findall(r"\d{2} [A-Z][a-z]+ \d{4}", retest)
    if dates:
        starts, ends = (datetime.strptime(d, "%d %B %Y").date() for d in dates)
        assert PRINTED < starts < ends
    else:
        assert "no retest of 12 sessions" in retest


def test_the_page_has_both_drawings_and_keeps_to_one_page(ann):
    assert len(ann.drawings) == 2
    assert "target" in ann.drawings[0].svg
    assert as_pdf(ann).pages == 1


def test_the_page_says_how_to_read_it_what_it_rests_on_and_what_to_mind(ann):
    assert "chance of 90 %" in text_of(ann)
    assert "6 sessions of Ann" in ann.source
    cautions = " ".join(ann.cautions)
    for word in ("hurts", "authorised", "Juniors", "ventilated", "physician", "medical advice"):
        assert word in cautions


def test_work_on_the_attack_angle_names_the_load_on_back_and_wrists():
    fit = squad_fit(changes=(replace(CHANGE, trait="attack_deg"),), drill_effect={})
    gains = player_gains(fit, "Ann", draws=200, shots=16)
    about = replace(gains, first="attack_deg")
    paper = player_paper(
        fit, about, STRIKES, lambda trait, logged: 0.95, printed=PRINTED, system="yards"
    )
    assert "back" in " ".join(paper.cautions)


def test_the_verdict_is_of_the_latest_logged_change():
    paper = made(squad_fit(changes=(CHANGE,)))
    assert any(part.heading == "Is the change of strike height real?" for part in paper.parts)


def test_units_are_the_readers():
    metres = text_of(made(squad_fit(), system="metres"))
    assert re.search(r"\d m\b", metres)
    assert " yd" not in metres


def test_a_fit_in_doubt_shows_its_problem_and_no_number():
    paper = made(squad_fit(report=SamplerReport(divergences=9, max_rhat=1.2, min_ess=20)))
    assert paper.problems
    assert paper.headline == "No answer from this fit."
    assert paper.drawings == ()
    assert not re.search(r"\d (yd|mm)", text_of(paper))
    assert as_html(paper).index(paper.problems[0].split(":")[0]) < as_html(paper).index("<h2>")


def test_a_player_who_is_not_in_the_fit_is_refused_plainly():
    with pytest.raises(TrackerError, match="'Zoe' is not in the fit"):
        squad_fit().player("Zoe")


def test_too_few_sessions_are_said_in_place_of_a_verdict():
    paper = made(make_fit({"Ann": {"strike_up_mm": -9.0}}, days=(0,)))
    assert "Too early to say" in text_of(paper)
