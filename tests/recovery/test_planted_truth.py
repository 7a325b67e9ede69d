"""Known truth comes back: intervals over several invented academies."""

import numpy as np
import pandas as pd
import pytest

from models.traits import MODELLED
from synthetic_data import AcademySpec, make_academy
from tracker.fits.dataset import squad_data
from tracker.fits.fitting import fit_squad
from tracker.records import Change

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

SEEDS = (11, 12, 13, 14, 15, 16)


def log_of(academy):
    """The academy's shots and changes as a store would give them."""
    shots = academy.shots.copy()
    shots["session"] = pd.to_datetime(shots["session"])
    for column in ("strike_method", "delivery_method"):
        shots[column] = shots[column].replace("", np.nan).fillna("unstated")
    changes = [
        Change(c.player, c.start, c.kind, c.name, c.trait, c.effort_sessions)
        for c in academy.changes
    ]
    return shots, changes


def squad_of(academy, references=("photo", "radar")):
    shots, changes = log_of(academy)
    return squad_data(shots, changes, references=references)


@pytest.fixture(scope="module")
def academies():
    found = []
    for seed in SEEDS:
        academy = make_academy(seed, AcademySpec(ball_data=False))
        found.append((academy, fit_squad(squad_of(academy), seed=seed)))
    return found


def planted_levels(academy, fit, player, trait):
    truth = academy.tendencies[academy.tendencies["player"] == player].copy()
    truth["session"] = pd.to_datetime(truth["session"])
    one = fit.of(player, trait)
    return truth.set_index("session")[trait].reindex(pd.to_datetime(list(one.starts))), one.path


def test_every_fit_is_clean(academies):
    for _, fit in academies:
        assert fit.problems == ()


def test_ninety_percent_intervals_of_levels_cover_85_to_95_percent(academies):
    inside = {trait: [] for trait in MODELLED}
    for academy, fit in academies:
        for player in fit.players:
            for trait in MODELLED:
                truth, path = planted_levels(academy, fit, player.name, trait)
                low, high = np.quantile(path, [0.05, 0.95], axis=0)
                inside[trait].append(((truth >= low) & (truth <= high)).mean())
    shares = {trait: float(np.mean(found)) for trait, found in inside.items()}
    print(shares)
    assert 0.85 <= np.mean(list(shares.values())) <= 0.95
    # one trait's levels share a method bias an academy, so six academies say little of one trait
    for trait, share in shares.items():
        assert 0.78 <= share <= 0.99, trait


def test_change_effects_are_covered_and_the_useless_drill_is_not_praised(academies):
    inside, praised = [], 0
    for academy, fit in academies:
        for change in fit.changes:
            planted = next(
                p for p in academy.changes if (p.player, p.name) == (change.player, change.name)
            )
            one = fit.of(change.player, change.trait)
            effect = one.change_effect[one.changes.index(change)]
            low, high = np.quantile(effect, [0.05, 0.95])
            inside.append(low <= planted.effect <= high)
        useless = fit.squad("path_deg").drill_effect["mirror swings"]
        praised += not 0.05 < np.mean(useless > 0) < 0.95
        works = fit.squad("strike_up_mm").drill_effect["tee-height ladder"]
        assert np.mean(works > 0) > 0.95
    print(np.mean(inside), praised)
    assert 0.8 <= np.mean(inside) <= 1.0
    assert praised <= 2  # one in ten is what a fair 90 % flag gives
