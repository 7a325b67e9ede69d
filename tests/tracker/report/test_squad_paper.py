"""The squad's paper: first levers, places with targets, drills; two pages at most."""

import pytest

from models.sampling.report import SamplerReport
from tests.fits import make_fit
from tests.tracker.report.papers import PRINTED, squad_fit
from tracker.decisions.distance.gain import player_gains
from tracker.decisions.squad import drill_table, squad_table
from tracker.report.setting import as_pdf
from tracker.report.squad_paper import PICTURED, squad_paper

UP = "strike_up_mm"


def made(fit, system="yards"):
    found = [player_gains(fit, p.name, draws=200, shots=16) for p in fit.players]
    table, drills = squad_table(fit, UP), drill_table(fit)
    return squad_paper(fit, found, UP, table, drills, printed=PRINTED, system=system)


@pytest.fixture(scope="module")
def squad():
    return made(squad_fit())


def test_every_player_has_a_first_lever_and_stands_in_the_picture(squad):
    (levers,) = (part.table for part in squad.parts if part.heading.startswith("What each"))
    assert {row[0] for row in levers.rows} == {"Ann", "Bob", "Cleo"}
    assert "90 % sure" in levers.note
    (ranks,) = squad.drawings
    assert all(name in ranks.svg for name in ("Ann", "Bob", "Cleo"))
    assert "target" in ranks.caption


def test_it_keeps_to_two_pages(squad):
    assert 1 <= as_pdf(squad).pages <= 2


def test_a_large_squad_keeps_to_two_pages_and_says_who_is_not_pictured():
    many = make_fit({f"Player {i:02d}": {UP: -9.0 + i / 4} for i in range(34)}, samples=60)
    paper = made(many)
    assert as_pdf(paper).pages <= 2
    assert f"The first {PICTURED} of 34 players." in paper.drawings[0].caption


def test_a_fit_in_doubt_shows_its_problems_and_ranks_nobody():
    paper = made(squad_fit(report=SamplerReport(divergences=9, max_rhat=1.2, min_ess=20)))
    assert paper.problems
    assert paper.headline == "No ranking."
    assert paper.drawings == ()
    assert not [part for part in paper.parts if part.heading.startswith("What each")]
