"""What the tool claims that a change is worth, against what it is worth to the planted player.

Five academies whose heads and balls differ. The fits stand near the planted tendencies, with
errors as large as a fit's (see ``near_truth``), so that the physics is judged and not the tendency
model; in two academies the whole chain runs from the log. A gain is 40 % of the way to the
tool's own target, or 1 m/s of club speed; the player's true gain is flown by the academy's own
impact and flight, from the planted level, scatter and loft following attack.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from models.traits import DELIVERY
from synthetic_data import AcademySpec, make_academy
from synthetic_data.ball import drive
from synthetic_data.heads import drawn_drive
from synthetic_data.spec import TRAITS as PLANTED
from synthetic_data.spec import session_sd
from tests.recovery.near_truth import fit_near
from tests.recovery.test_planted_truth import log_of
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.target import find_target
from tracker.fits.fitting import FitRequest, calibrated, fit_shots

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
]

SEEDS = (61, 62, 63, 64, 65)
WHOLE = (61, 62)
SHARE = 0.4
FASTER_MPS = 1.0
DRAWS, SHOTS, TRUE_SHOTS = 100, 32, 1500
CARRY = 5


@dataclass(frozen=True)
class Gain:
    """One player's gain by one trait, m of carry."""

    trait: str
    claimed: float
    low: float
    high: float
    actual: float


def gains_of(academy, fit):
    """Every player's gain by every trait."""
    found = []
    for i, player in enumerate(academy.players):
        cloud = player_cloud(fit, player.name, draws=DRAWS, shots=SHOTS)
        # the invented swings keep their path when they are taught another attack angle
        cloud = replace(cloud, path_follows_attack=np.zeros(cloud.draws))
        now = cloud.carry()
        level, deliveries = true_deliveries(academy, i)
        true_now = true_carry(academy, i, deliveries)
        for trait in DELIVERY:
            k = DELIVERY.index(trait)
            if trait == "club_speed_mps":
                moved, step = cloud.moved(trait, cloud.level[:, k] + FASTER_MPS), FASTER_MPS
            else:
                target = find_target(cloud, trait).best
                here = cloud.level[:, k]
                moved = cloud.moved(trait, here + SHARE * (target - here))
                step = SHARE * (target - level[k])
            draws = moved.carry() - now
            after = deliveries.copy()
            after[:, k] += step
            if trait == "attack_deg":
                after[:, DELIVERY.index("loft_deg")] += academy.spec.kappa * step
            low, high = np.quantile(draws, [0.05, 0.95])
            actual = true_carry(academy, i, after) - true_now
            found.append(Gain(trait, float(draws.mean()), float(low), float(high), actual))
    return found


def true_deliveries(academy, i):
    """A player's planted level at the last session, and shots around it as planted."""
    assert DELIVERY == PLANTED
    player, spec = academy.players[i], academy.spec
    mine = academy.tendencies[academy.tendencies["player"] == player.name]
    level = mine[list(PLANTED)].to_numpy()[-1]
    rng = np.random.default_rng([academy.seed, i])
    days = np.array([session_sd()[t] for t in PLANTED]) * rng.standard_normal((TRUE_SHOTS // 2, 7))
    root = np.linalg.cholesky(player.shot_covariance)
    wild = np.sqrt((spec.tail_df - 2) / rng.chisquare(spec.tail_df, TRUE_SHOTS // 2))
    around = days + wild[:, None] * (rng.standard_normal((TRUE_SHOTS // 2, 7)) @ root.T)
    return level, np.concatenate([level + around, level - around])


def true_carry(academy, i, deliveries):
    """Mean carry of deliveries with a player's own planted head, 20 C at sea level."""
    player = academy.players[i]
    size = len(deliveries)
    flown = drive(
        deliveries, np.full(size, 20.0), np.zeros(size), academy.drive_parameters,
        player.e0_offset, player.cg_height_offset_mm,
    )  # fmt: skip
    return float(flown[:, CARRY].mean())


def summary(gains):
    """By trait: claimed over actual gain, and the share of 90 % intervals that hold the truth."""
    table = {}
    for trait in DELIVERY:
        mine = [g for g in gains if g.trait == trait]
        claimed, actual = sum(g.claimed for g in mine), sum(g.actual for g in mine)
        cover = np.mean([g.low <= g.actual <= g.high for g in mine])
        print(
            f"{trait:16s} {len(mine)} players, gain {actual / len(mine):5.2f} m, claimed over "
            f"actual {claimed / actual:.3f}, cover {cover:.3f}"
        )
        table[trait] = (claimed / actual, float(cover))
    return table


@pytest.fixture(scope="module")
def near():
    gains = []
    for seed in SEEDS:
        academy = make_academy(seed, AcademySpec(), drawn_drive(seed))
        shots, _ = log_of(academy)
        gains += gains_of(academy, calibrated(fit_near(academy, seed), shots, seed=1))
    return summary(gains)


@pytest.mark.parametrize("trait", DELIVERY)
def test_claimed_gains_come_true_trait_by_trait(near, trait):
    ratio, _ = near[trait]
    assert 0.9 <= ratio <= 1.1


@pytest.mark.parametrize("trait", DELIVERY)
def test_ninety_percent_intervals_of_gains_hold_the_truth(near, trait):
    # 70 players: 90 % of them with a standard error of 3.6 points
    assert 0.83 <= near[trait][1] <= 0.98


def test_the_whole_chain_claims_what_comes_true():
    gains = []
    for seed in WHOLE:
        academy = make_academy(seed, AcademySpec(), drawn_drive(seed))
        shots, changes = log_of(academy)
        fit, _ = fit_shots(shots, changes, FitRequest(references=("photo", "radar")))
        gains += gains_of(academy, fit)
    for trait, (ratio, cover) in summary(gains).items():
        assert 0.8 <= ratio <= 1.2, trait
        assert cover >= 0.75, trait
