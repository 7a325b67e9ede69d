"""Draws of what the density integrates out against its exact posterior by dense algebra."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import logsumexp

from models.tendency.density import HALF_YEAR_WEEKS
from models.tendency.smoother import Smoothed, smoothed
from tests.models.tendency.dense import Season, Values, scatter_logp, shot_grid, ways
from tests.models.tendency.seasons import SEASONS, made, squad, values_for

SAMPLES = 40_000

NAMES = (
    "mu", "spread", "drift", "session_sd", "day_alike", "log_shot_mean", "log_shot_spread",
    "effect_sd", "jump_sd",
)  # fmt: skip


def drawn(v: Values, seasons: list[Season], samples: int = SAMPLES) -> Smoothed:
    """Return draws given one and the same set of parameters."""
    draws = {n: np.full(samples, getattr(v, n)) for n in NAMES}
    draws["jump_chance"] = np.full(samples, -np.expm1(-v.jump_rate * HALF_YEAR_WEEKS))
    draws["bias"] = np.tile(v.bias[1:], (samples, 1))
    draws["group_effect"] = np.tile(v.drills, (samples, 1))
    return smoothed(draws, squad(seasons, drills=2), np.random.default_rng(8))


class Exact:
    """Moments of a season's hidden quantities, log shot SD summed over a grid."""

    def __init__(self, v: Values, season: Season) -> None:
        grid = shot_grid(v, season, 25)
        found = [ways(v, season, x) for x in grid]
        log = np.array(
            [w.log_weight + scatter_logp(v, season, x) for w, x in zip(found, grid, strict=True)]
        )
        weight = np.exp(log - logsumexp(log))
        mean = np.array([w.mean for w in found])
        cov = np.array([w.cov for w in found])
        self.mean = np.einsum("xw,xwh->h", weight, mean)
        away = mean - self.mean
        self.cov = np.einsum("xw,xwhg->hg", weight, cov)
        self.cov += np.einsum("xw,xwh,xwg->hg", weight, away, away)
        at = found[0].at
        self.chance = {r: weight[:, at == r].sum() for r in range(-1, season.gap.size)}
        size, square = mean[:, :, -1], cov[:, :, -1, -1] + mean[:, :, -1] ** 2
        self.jump = {
            r: tuple((weight * m)[:, at == r].sum() / c for m in (size, square))
            for r, c in self.chance.items()
            if c > 0
        }
        by_grid = weight.sum(axis=1)
        self.log_shot = float(by_grid @ grid)
        self.log_shot_sd = float(np.sqrt(by_grid @ (grid - self.log_shot) ** 2))


CASES = {
    "usual": ("no change", {}),
    "one method": ("one method", {}),
    "two changes": ("two changes", {}),
    "two changes on one day": ("two changes on one day", {}),
    "five changes": ("five changes", {}),
    "change before the first session": ("change before the first session", {}),
    "one session": ("one session, one method, one change", {}),
    "two sessions on one day": ("two sessions on one day", {}),
    "missed faces": ("missed faces", {}),
    "scatter no more than reading error": ("scatter no more than reading error", {}),
    "last sessions unread": ("last sessions unread", {}),
    "nothing read": ("nothing read", {}),
    "an unlogged change is likely": ("no change", {"jump_rate": 0.3, "jump_sd": 15.0}),
    "no unlogged change": ("two changes", {"jump_rate": 0.0, "jump_sd": 0.0}),
    "days that are not alike": ("no change", {"day_alike": 0.0}),
    "players all alike": ("no change", {"spread": 0.0, "drift": 0.0}),
}


@pytest.mark.parametrize(("name", "other"), CASES.values(), ids=CASES)
def test_draws_have_the_moments_of_the_exact_posterior(name, other):
    season = SEASONS[name]
    v = values_for(season, **other)
    found, exact = drawn(v, [season]), Exact(v, season)
    hidden = np.hstack([found.level, found.effect])
    sd = np.sqrt(np.diag(exact.cov)[:-1])
    scale = np.maximum(sd, 1e-3)
    np.testing.assert_allclose((hidden.mean(axis=0) - exact.mean[:-1]) / scale, 0, atol=0.02)
    away = (hidden - hidden.mean(axis=0)) / scale
    products = away[:, :, None] * away[:, None]
    error = products.std(axis=0) / np.sqrt(SAMPLES)  # jumps have heavy tails
    apart = np.abs(products.mean(axis=0) - exact.cov[:-1, :-1] / np.outer(scale, scale))
    assert (apart < 4.5 * error + 0.015).all()
    log_shot = np.log(found.shot_sd[:, 0])
    # scatter that contradicts the prior puts the shot SD where the nodes are not
    loose = 0.12 if name.startswith("scatter") else 0.04
    assert log_shot.mean() == pytest.approx(exact.log_shot, abs=loose * exact.log_shot_sd)
    assert log_shot.std() == pytest.approx(exact.log_shot_sd, rel=loose)


@pytest.mark.parametrize(("name", "other"), CASES.values(), ids=CASES)
def test_unlogged_changes_come_where_and_as_large_as_they_should(name, other):
    season = SEASONS[name]
    v = values_for(season, **other)
    found, exact = drawn(v, [season]), Exact(v, season)
    at, jump = found.jump_at[:, 0], found.jump[:, 0]
    assert not jump[at < 0].any()
    for r, chance in exact.chance.items():
        error = np.sqrt(chance * max(1 - chance, 0) / SAMPLES)
        # quadrature moves chances a little too
        assert (at == r).mean() == pytest.approx(chance, abs=4 * error + 0.002)
        if r >= 0 and chance > 0.01:
            mean, square = exact.jump[r]
            mine = jump[at == r]
            sd = np.sqrt(square - mean**2)
            assert mine.mean() == pytest.approx(mean, abs=(0.01 + 4.5 / np.sqrt(mine.size)) * sd)
            assert mine.std() == pytest.approx(sd, rel=0.03 + 6 / np.sqrt(mine.size))


def test_levels_move_with_the_jump_they_are_drawn_with():
    """With readings on both sides of it, a jump is as large as the step it explains."""
    season = SEASONS["no change"]
    v = values_for(season, jump_rate=0.3, jump_sd=15.0, drift=0.0)
    found = drawn(v, [season], 4000)
    step = np.diff(found.level, axis=1)
    for i, (at, jump) in enumerate(zip(found.jump_at[:, 0], found.jump[:, 0], strict=True)):
        expected = np.zeros(season.gap.size - 1)
        if at > 0:
            expected[at - 1] = jump
        elif at == 0:
            expected = jump * season.gap[1:]
        np.testing.assert_allclose(step[i], expected, atol=1e-9)


def test_who_was_never_read_is_drawn_from_the_prior():
    season = SEASONS["nothing read"]
    v = values_for(season, jump_rate=0.02)
    found = drawn(v, [season, SEASONS["no change"]])
    level = found.level[:, : season.gap.size]
    span = season.weeks[-1]
    assert level[:, 0].mean() == pytest.approx(v.mu, abs=0.1)
    assert level[:, 0].std() == pytest.approx(v.spread, rel=0.02)
    assert (found.jump_at[:, 0] < 0).mean() == pytest.approx(np.exp(-0.02 * span), abs=0.01)
    log_shot = np.log(found.shot_sd[:, 0])
    assert log_shot.mean() == pytest.approx(v.log_shot_mean, abs=0.01)
    assert log_shot.std() == pytest.approx(v.log_shot_spread, rel=0.02)


def test_a_player_is_drawn_alike_beside_others_and_alone():
    """Places in the squad's rows: the second player's draws have the same moments as alone."""
    season = SEASONS["two changes"]
    v = values_for(season)
    beside = drawn(v, [SEASONS["three changes of one drill"], season, SEASONS["one session"]])
    alone = drawn(v, [season])
    mine = slice(7, 14)
    sd = alone.level.std(axis=0)
    np.testing.assert_allclose(
        (beside.level[:, mine].mean(axis=0) - alone.level.mean(axis=0)) / sd, 0, atol=0.03
    )
    sd = alone.effect.std(axis=0)
    np.testing.assert_allclose(
        (beside.effect[:, 3:].mean(axis=0) - alone.effect.mean(axis=0)) / sd, 0, atol=0.03
    )


def test_much_scatter_leaves_the_shot_sd_to_the_scatter_alone():
    season = replace(made(df=4000.0, methods=1), scatter=np.array([4000.0 * 50.0]))
    v = values_for(season)
    found = drawn(v, [season], 20_000)
    assert found.shot_sd.mean() == pytest.approx(7.0, rel=0.005)
    assert found.shot_sd.std() == pytest.approx(50 / 7 / np.sqrt(8000), rel=0.05)


def test_the_same_seed_gives_the_same_draws():
    v = values_for(SEASONS["two changes"])
    a, b = (drawn(v, [SEASONS["two changes"]], 50) for _ in range(2))
    np.testing.assert_array_equal(a.level, b.level)
    np.testing.assert_array_equal(a.jump_at, b.jump_at)
