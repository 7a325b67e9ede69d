"""What is left unclaimed is added draw by draw over the players' first levers."""

import numpy as np
import pytest

from tests.fits import BROKEN, make_fit
from tracker.decisions.board.unclaimed import unclaimed
from tracker.decisions.distance.gain import ranked, squad_levers

LOW = {"strike_up_mm": -12.0, "attack_deg": -4.0}


@pytest.fixture(scope="module")
def levers():
    fit = make_fit({"Ann": LOW, "Ben": {"strike_up_mm": -9.0}, "Cy": {}}, level_sd=1.0)
    return squad_levers(fit)


def test_the_total_is_that_of_the_sums_in_each_draw(levers):
    found = unclaimed(levers)
    firsts = {g.player: g.best for g in map(ranked, levers)}
    drawn = [
        worth.gain
        for one in levers
        for worth in one.offered
        if firsts[one.player] is not None and worth.lever == firsts[one.player].lever
    ]
    assert len(drawn) >= 2
    together = np.sum(drawn, axis=0)
    assert found.total.median == pytest.approx(np.median(together))
    assert found.total.low90 == pytest.approx(np.quantile(together, 0.05))
    assert found.mean_total == pytest.approx(together.mean())


def test_most_to_gain_comes_first_and_levers_are_counted(levers):
    found = unclaimed(levers)
    means = [g.best.mean_gain_m for g in found.gains if g.best is not None]
    assert means == sorted(means, reverse=True)
    assert sum(number for _, number in found.levers) == len(means)


def test_a_fit_in_doubt_gives_no_number():
    fit = make_fit({"Ann": LOW}, report=BROKEN, samples=50)
    found = unclaimed(squad_levers(fit))
    assert found.problems
    assert (found.gains, found.total, found.levers) == ((), None, ())


def test_nobody_is_no_total():
    found = unclaimed(())
    assert (found.total, found.mean_total, found.problems) == (None, 0.0, ())
