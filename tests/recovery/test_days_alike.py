"""Days that resemble their neighbours: found where planted, and levels covered either way."""

from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from tracker.fits.dataset import squad_data
from tracker.fits.fitting import fit_squad

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

TRAIT = "strike_up_mm"
PLAYERS, SESSIONS, SHOTS = 16, 24, 15
DAY_SD, SHOT_SD, DRIFT = 3.0, 6.0, 0.4


def season(alike, seed):
    """Return shots of a squad and the true levels, (player, session)."""
    rng = np.random.default_rng(seed)
    rows, levels = [], np.empty((PLAYERS, SESSIONS))
    for p in range(PLAYERS):
        steps = rng.normal(0, DRIFT, SESSIONS)
        steps[0] = rng.normal(2, 4)
        levels[p] = np.cumsum(steps)
        day = 0.0
        for s in range(SESSIONS):
            fresh = rng.normal(0, DAY_SD)
            day = fresh if s == 0 else alike * day + np.sqrt(1 - alike**2) * fresh
            when = datetime(2026, 1, 5) + timedelta(weeks=s)
            for n in range(SHOTS):
                value = levels[p, s] + day + rng.normal(0, SHOT_SD)
                rows.append((f"P{p:02d}", when, n + 1, value))
    table = pd.DataFrame(rows, columns=["player", "session", "number", TRAIT])
    return table.assign(handed="right", strike_method="spray", delivery_method="radar"), levels


def covered(fit, levels):
    low, high = np.quantile(fit.level[..., 0], [0.05, 0.95], axis=0)
    return float(np.mean((low <= levels) & (levels <= high)))


@pytest.fixture(scope="module")
def planted():
    """Two squads, one whose days are alike, each with its levels and its fit."""
    made = {}
    for alike in (0.0, 0.7):
        table, levels = season(alike, 20 + int(10 * alike))
        made[alike] = levels, fit_squad(squad_data(table, (), traits=(TRAIT,)), seed=4)
    return made


def test_alike_days_are_found_and_levels_covered(planted):
    levels, fit = planted[0.7]
    draws = fit.squad(TRAIT).day_alike
    print(draws.mean(), draws.std(), covered(fit, levels))
    assert np.quantile(draws, 0.05) > 0.3
    assert abs(draws.mean() - 0.7) < 2.5 * draws.std()  # measured 1.7: the prior pulls down
    assert 0.82 <= covered(fit, levels) <= 0.97
    assert fit.problems == ()


def test_days_apart_are_not_called_alike(planted):
    levels, fit = planted[0.0]
    low, high = np.quantile(fit.squad(TRAIT).day_alike, [0.05, 0.95])
    print(low, high, covered(fit, levels))
    assert low < 0.1
    assert high < 0.5
    assert 0.82 <= covered(fit, levels) <= 0.97
    assert fit.problems == ()
