"""Ordinary logs of every shape fit without help, and their intervals mean what they say."""

import pandas as pd
import pytest

from tests.recovery.battery import ALL, SHAPES, SIZES, STRIKES, Shape, make_log
from tests.recovery.battery_run import SEEDS, FitRow, cover, run, table
from tracker.readings.shot_frame import SHOT_COLUMNS

CLEAN_SHARE = 0.99
COVER = (0.87, 0.93)


def row(shape="plain", hits=(), **more):
    usual = {"problems": (), "attempts": 1, "divergences": 0, "max_rhat": 1.0, "min_ess": 900.0}
    return FitRow(shape=shape, seed=1, seconds=2.0, hits=tuple(hits), **{**usual, **more})


def test_the_battery_is_wide_enough():
    assert len({shape.name for shape in SHAPES}) == len(SHAPES) >= 40
    assert len(SHAPES) * SEEDS >= 120
    assert max(shape.players for shape in SHAPES) == 60
    assert max(shape.shots for shape in SHAPES) == 500


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_a_log_is_what_a_store_gives_and_its_truth_covers_every_session(shape):
    log = make_log(shape, 1)
    assert tuple(log.shots.columns) == SHOT_COLUMNS
    assert log.shots["player"].nunique() <= shape.players
    assert set(log.shots.columns[log.shots.notna().any()]) & set(ALL) == set(shape.traits)
    keys = log.shots[["player", "session", "club", "number"]]
    assert not keys.duplicated().any()
    for player, session in set(zip(log.shots["player"], log.shots["session"], strict=True)):
        assert {(player, session, trait) for trait in shape.traits} <= set(log.level)
    again = make_log(shape, 1)
    assert log.shots.equals(again.shots)
    assert not log.shots.equals(make_log(shape, 2).shots)


def test_intervals_that_know_the_generators_sds_cover_ninety_percent():
    """The truth is what it is said to be: a level that stands, found by the normal formula."""
    inside = []
    for seed in (1, 2, 3):
        log = make_log(Shape("standing", players=30, sessions=3, shots=8), seed)
        for trait in STRIKES:
            size = SIZES[trait]
            for player, rows in log.shots.groupby("player"):
                by_session = rows.groupby("session")[trait]
                mean, variance = by_session.mean(), by_session.var().mean()
                error = (variance / 8 + size.day**2) / 3
                var = 1 / (1 / error + 1 / size.between**2)
                middle = var * (mean.mean() / error + size.middle / size.between**2)
                true = log.level[player, mean.index[-1].to_pydatetime(), trait]
                inside.append(abs(true - middle) < 1.645 * var**0.5)
    assert 0.85 <= sum(inside) / len(inside) <= 0.95


def test_steady_improvement_and_logged_changes_are_in_the_truth():
    shape = Shape("moving", players=20, sessions=10, shots=200, weekly=1.0, changes=1)
    log = make_log(shape, 5)
    levels = pd.Series(dict(log.level)).xs("strike_toe_mm", level=2)
    means = log.shots.groupby(["player", "session"])["strike_toe_mm"].mean()
    both = pd.DataFrame({"true": levels, "read": means}).groupby(level=0)
    moved = both.last() - both.first()
    assert moved["true"].std() > 2  # what the drill did, apart from a line of a millimetre a week
    assert abs((moved["read"] - moved["true"]).mean()) < 2
    assert (moved["read"] - moved["true"]).abs().max() < 2 * 2.5 * 3**0.5 + 4


def test_a_fit_is_clean_only_at_the_first_attempt_and_without_problems():
    assert row().clean
    assert not row(attempts=2).clean
    assert not row(problems=("chains disagree",)).clean
    assert not row(error="ValueError: x").clean
    assert not row(attempts=2).needs_somebody
    assert row(problems=("chains disagree",)).needs_somebody


def test_the_table_counts_fits_and_intervals():
    rows = [
        row("one", [("attack_deg", True), ("loft_deg", False)]),
        row("two", [("attack_deg", True)], attempts=2),
    ]
    assert cover(rows) == (2, 3)
    assert cover(rows, "attack_deg") == (2, 2)
    written = table(rows)
    assert "2 fits of 2 shapes; 1 (50.0 %) passed their checks at the first attempt; 0" in written
    assert "2 of 3 90 % intervals of levels hold the true one (66.7 %)" in written
    assert "| loft_deg | 0/1 (0 %) |" in written


@pytest.mark.slow
def test_ordinary_logs_fit_at_the_first_attempt_and_their_intervals_cover():
    rows = run(SHAPES, SEEDS)
    needing = [(r.shape, r.seed, r.error or r.problems) for r in rows if r.needs_somebody]
    assert needing == []
    assert sum(r.clean for r in rows) / len(rows) >= CLEAN_SHARE
    inside, total = cover(rows)
    assert COVER[0] <= inside / total <= COVER[1]
