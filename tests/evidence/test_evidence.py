"""The requirements of a verdict on fresh seasons: a smaller run than ``make evidence``.

A requirement is held against the 95 % limits of so many seasons, so that luck does not fail it.
"""

import numpy as np
import pytest

from tests.evidence.drawing import draw_evidence
from tests.evidence.figures_of_merit import Share, merit
from tests.evidence.judging import columns
from tests.evidence.programme import judged, table

SQUADS = 24


@pytest.fixture(scope="module")
def rows():
    return judged(SQUADS, seed=77)


@pytest.fixture(scope="module")
def found(rows):
    return merit(rows)


def test_limits_of_a_share_are_clopper_and_pearsons():
    # Clopper & Pearson 1934: 0 of 10 has the upper limit 1 - .025^(1/10)
    assert Share(0, 10).high == pytest.approx(1 - 0.025**0.1)
    assert Share(10, 10).low == pytest.approx(0.025**0.1)
    assert (Share(0, 10).low, Share(10, 10).high) == (0.0, 1.0)


@pytest.mark.slow
def test_unchanged_players_are_rarely_ever_called_real(found):
    assert found.unchanged.low <= 0.05
    assert found.unchanged.value < 0.08


@pytest.mark.slow
def test_what_is_called_real_has_the_right_sign(found):
    assert found.wrong_sign.low <= 0.025


@pytest.mark.slow
def test_claims_about_changes_come_true_as_often_as_claimed(found):
    for b in found.bins:
        assert b.right.low - 0.03 <= b.claimed <= b.right.high + 0.03, b


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say(found):
    cover = found.cover["all players"]
    assert cover.high >= 0.88
    assert cover.low <= 0.92


@pytest.mark.slow
def test_the_habits_are_far_worse(found):
    for habit, ever in found.habits_ever.items():
        assert ever.value > 10 * found.unchanged.value, habit
    assert found.t_cover.value < 0.75


@pytest.mark.slow
def test_table_and_picture_are_written(tmp_path, rows, found):
    text = table(found, 60.0, SQUADS)
    assert found.unchanged.percent() in text
    draw_evidence(tmp_path / "evidence.png", rows, found)
    assert (tmp_path / "evidence.png").stat().st_size > 10_000


def test_rows_become_columns():
    assert all(isinstance(v, np.ndarray) for v in columns([]).values())
