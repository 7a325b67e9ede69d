"""The trust page: doubts in words before any table, evidence, physics, and what changed since."""

from dataclasses import replace

import pytest

from tests.fits import BROKEN, CLEAN, make_fit, with_info
from tests.pages import drawn_by
from tests.tracker.pages.academy import keep, small_fit
from tracker.decisions.checks.evidence import evidence, lever_evidence
from tracker.pages.shared.checks_view import checks_view
from tracker.pages.trust_view import trust_view

UP = "strike_up_mm"


def trust():
    from tracker.pages.trust import page

    page()


def draw(view, checks):
    from tracker.pages.trust import render

    render(view, checks)


def shown(fit):
    view = trust_view(fit, (), "yards")
    page = drawn_by(draw, kwargs={"view": view, "checks": checks_view((), "yards")})
    page.run()
    assert not page.exception
    return page


def run(page=None):
    page = (page or drawn_by(trust)).run()
    assert not page.exception
    return page


def test_doubts_stand_in_words_above_folded_tables():
    fit = make_fit({"Ann": {}}, reports={UP: BROKEN, "attack_deg": CLEAN})
    view = trust_view(fit, (), "yards")
    assert view.headline == "Strike height is in doubt; every other part passed its checks."
    page = shown(fit)
    assert "no verdict on it is given, nor anything in distance" in page.warning[0].value
    assert "1 passed every check" in " ".join(m.value for m in page.markdown)
    folded = {e.label for e in page.expander if e.table}
    assert "Every part with the sampler's own checks" in folded
    assert len(page.table) == sum(len(e.table) for e in page.expander)  # none stands open


def test_evidence_and_published_values_are_counted_with_what_was_missed():
    page = shown(make_fit({"Ann": {}}))
    said = " ".join(m.value for m in page.markdown)
    assert "invented seasons whose truth is known, the verdicts met" in said
    assert "values that others have published" in said
    (requirements,) = (t.value for t in page.table if "What verdicts must do" in t.value.columns)
    assert (requirements["Met"] == "no").sum() == len(evidence().missed) > 0
    assert not requirements["Wanted"].str.contains("[<>]").any()  # a quotation in Markdown
    (folded,) = (e for e in page.expander if e.label == "Every requirement on verdicts")
    assert [c.value[:12] for c in folded.caption] == ["Invented pla"]  # its limits are of 95 %
    bullets = " ".join(m.value for m in page.markdown if m.value.startswith("- "))
    assert all(row.means in bullets for row in evidence().missed)
    (first,) = (t.value for t in page.table if "What first levers must do" in t.value.columns)
    assert "the first levers met" in said
    assert len(first) == len(lever_evidence().requirements)
    assert not first["Wanted"].str.contains("[<>]").any()
    (published,) = (t.value for t in page.table if "Found here" in t.value.columns)
    assert published.loc[0, "Met"].startswith("no: ")  # what is not met comes first


def test_physics_is_said_with_its_interval_and_constants_are_folded():
    view = trust_view(small_fit(with_balls=True), (), "yards")
    assert "missed by" in view.physics
    assert view.physics.count("90 % sure between") == 2  # learned and published
    assert "yd (90 % sure between" in view.physics
    assert [row[0] for row in view.constants] == ["Drag of the balls against the published ball"]
    assert "The published physics serves" in trust_view(small_fit(), (), "yards").physics


def test_constants_of_a_physics_in_doubt_are_not_shown():
    broken = with_info(
        small_fit(with_balls=True),
        replace(small_fit().info, reports={UP: CLEAN, "physics": BROKEN}),
    )
    view = trust_view(broken, (), "yards")
    assert view.constants == ()
    assert not any(c.isdigit() for c in view.physics)


def test_what_the_fit_was_made_of_is_told(fit):
    made = dict(trust_view(fit, (), "yards").made)
    assert made["Data digest"] == fit.info.data_digest
    assert made["Seed"].startswith(f"{fit.info.seed}:")


def test_one_fit_has_nothing_to_be_compared_with(academy):
    page = run()
    assert "What was believed before" in [h.value for h in page.header]
    assert any(m.value.startswith("1 fit kept") for m in page.markdown)
    assert not [s for s in page.selectbox if s.label == "What changed, and why"]


def test_neighbouring_fits_are_compared_when_asked_for(academy, fit):
    levels = {"Cedar": {UP: 6.0, "strike_toe_mm": 3.0}, "Alder": {UP: 2.0, "strike_toe_mm": -2.0}}
    keep(academy, with_info(make_fit(levels, changes=fit.changes), replace(fit.info, seed=12)))
    page = run()
    (asked,) = (s for s in page.selectbox if s.label == "What changed, and why")
    assert asked.value == "choose two neighbouring fits"
    assert not page.text
    page = run(asked.set_value("from fit 1 to fit 2"))
    assert page.text[0].value.splitlines()[0] == "The same shots and changes."
    assert "Drawn with seed 12 in place of 11." in page.text[0].value
    (moved,) = (t.value for t in page.table if "Believed then" in t.value.columns)
    row = moved[moved["Player"] == "Cedar"].iloc[0]
    assert row["Believed then"].startswith("-3.8 mm")
    assert row["Believed now"].startswith("+6.0 mm")
    assert row["Why"] == "luck of drawing (seed 11, then 12)"


@pytest.mark.parametrize("broken", [False, True])
def test_whole_page_says_first_whether_the_fit_holds(academy, fit, broken):
    keep(academy, with_info(fit, replace(fit.info, report=BROKEN if broken else CLEAN)))
    page = run()
    assert page.title[0].value == (
        "No part of this fit passed its checks."
        if broken
        else "Every part of this fit was sampled well; some of it wants care."
    )
    assert bool(page.main.warning) is broken
    assert bool(page.main.info) is not broken


def test_chances_of_earlier_fits_stand_beside_what_they_came_to(academy, fit):
    grown = {
        "Cedar": {UP: [-8.0, -8.2, -4.0, -3.8, -3.9], "strike_toe_mm": 3.0},
        "Alder": {UP: 2.0, "strike_toe_mm": -2.0},
    }
    later = make_fit(grown, days=(0, 7, 14, 21, 28), changes=fit.changes)
    keep(academy, with_info(later, fit.info), digest="later")
    page = run()
    assert "Have the chances it gave come true?" in [h.value for h in page.header]
    said = " ".join(m.value for m in page.markdown)
    assert "One earlier fit gave" in said
    assert "by the newest fit's lights" in said
    (by_kind,) = (t.value for t in page.table if "Of what" in t.value.columns)
    assert "which way a trait moved" in set(by_kind["Of what"])
    assert by_kind["Came right"].str.contains("in 100").all()
    assert len(page.get("vega_lite_chart") or page.get("arrow_vega_lite_chart")) == 1


def test_with_one_fit_no_chance_is_judged(academy):
    said = [m.value for m in run().markdown]
    assert any(m.startswith("Nothing can be judged yet") for m in said)
