"""The invented seasons are what the evidence says they are."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from tests.evidence.seasons import (
    KINDS,
    NEIGHBOURS,
    SESSION_SD_MM,
    SESSIONS,
    SHOT_SD_MM,
    STEP_MM,
    TRAIT,
    name_of,
    squads,
)


@pytest.fixture(scope="module")
def many():
    return list(squads(3, 40))


def residuals(many):
    found = []
    for squad in many:
        for place, value in squad.readings:
            for s in range(SESSIONS):
                found.append(value[place == s] - value[place == s].mean())
    return np.concatenate(found)


def test_unchanged_players_levels_stand_still_and_moved_ones_move(many):
    for squad in many:
        step = np.abs(np.diff(squad.level, axis=1)).max(axis=1)
        for kind, largest in zip(squad.kinds, step, strict=True):
            assert (largest > 0) == (kind not in ("plain", "sham", "deaf"))
            if kind in STEP_MM:
                assert largest == pytest.approx(STEP_MM[kind])


def test_shots_scatter_as_told_with_heavy_tails(many):
    left = residuals(many)
    # player SDs are lognormal .25 about 9 mm: E[SD^2] = 81 exp(2 * .25^2); readings add 1 to 6.25
    expected = SHOT_SD_MM**2 * np.exp(2 * 0.25**2)
    assert left.var() == pytest.approx(expected, rel=0.12)
    assert stats.kurtosis(left) > 2  # normal 0, lognormal SDs alone 0.8, t5 alone 6


def test_days_resemble_their_neighbours(many):
    pairs = []
    for squad in many:
        for p, (place, value) in enumerate(squad.readings):
            if squad.kinds[p] != "plain":
                continue
            methods = squad.shots.loc[squad.shots["player"] == name_of(p), "strike_method"]
            if methods.nunique() > 1:
                continue
            mean = np.array([value[place == s].mean() for s in range(SESSIONS)])
            mean -= squad.level[p] + (methods.iloc[0] == "spray")
            pairs += list(pairwise(mean))
    first, second = np.array(pairs).T
    shots = np.mean([1 / n for n in range(10, 26)]) * 95  # what shots add to a mean, mm2
    assert np.mean(first * second) == pytest.approx(NEIGHBOURS * SESSION_SD_MM**2, abs=1.2)
    assert first.var() == pytest.approx(SESSION_SD_MM**2 + shots, rel=0.15)


def test_weeks_are_missed_and_methods_switched(many):
    gaps = np.concatenate([np.diff(s.day, axis=1).ravel() for s in many])
    assert 0.1 < np.mean(gaps > 10) < 0.35
    assert gaps.max() >= 35
    switched = [
        s.shots.loc[s.shots["player"] == name_of(p), "strike_method"].nunique() > 1
        for s in many
        for p in range(len(KINDS))
    ]
    assert np.mean(switched) == pytest.approx(0.4, abs=0.08)


def test_a_look_sees_only_what_had_happened(many):
    early = many[0].upto(5)
    assert early["place"].max() == 4
    assert early[TRAIT].notna().all()


def test_the_same_seed_gives_the_same_seasons():
    first, second = (next(squads(9, 1)).shots[TRAIT] for _ in range(2))
    assert first.equals(second)
