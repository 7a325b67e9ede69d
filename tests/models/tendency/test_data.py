"""One trait taken out of a squad's padded summaries."""

import numpy as np
import pytest

from models.tendency.data import TendencyData, trait_series
from models.tendency.likelihood import scatter_terms
from models.traits import TRAITS

STRIKES = ("strike_toe_mm", "strike_up_mm", "attack_deg")


def squad(**other) -> TendencyData:
    """Two players, three and two sessions, three traits of which the last has no reading."""
    count = np.zeros((2, 2, 3, 3))
    count[0, 0, :, :2] = 5.0
    count[0, 1, :2, :2] = 7.0
    count[1, 0, 1, 1] = 4.0  # a second method for the second trait alone
    mean = np.where(count > 0, np.arange(36.0).reshape(2, 2, 3, 3), 0.0)
    scatter_df = np.maximum(count - 1, 0).sum(axis=2)
    fields = {
        "players": ("a", "b"),
        "traits": STRIKES,
        "week": np.array([[0.0, 1.0, 3.0], [0.5, 2.5, np.inf]]),
        "gap": np.array([[0.0, 1.0, 2.0], [0.0, 2.0, 0.0]]),
        "count": count,
        "mean": mean,
        "scatter": 70.0 * scatter_df,
        "scatter_df": scatter_df,
        "reading_sd": np.full((2, 3), 1.5),
        "change_player": np.array([1, 0, 0, 1, 0]),
        "change_week": np.array([1.0, 2.0, 1.0, 2.6, -4.0]),
        "effect_change": np.array([0, 1, 2, 3, 4, 0]),
        "effect_trait": np.array([1, 1, 1, 1, 1, 2]),
        "effect_group": np.array([7, 5, 7, 5, 7, 9]),
        "group_trait": np.zeros(10, dtype=int),
        "pair_z": np.zeros((2, 3)),
        "pair_variance": np.full((2, 3), np.inf),
        "missed": np.array([0.0, 3.0]),
        "strike_mean": np.array([[0.0, 1.0], [-12.0, 4.0]]),
    }
    return TendencyData(**(fields | other))


def of(data, k):
    return trait_series(data, k, TRAITS[STRIKES[k]].prior)


def test_padding_goes_and_sessions_keep_their_order():
    series = of(squad(), 0)
    np.testing.assert_array_equal(series.first, [0, 3, 5])
    np.testing.assert_array_equal(series.gap, [0, 1, 2, 0, 2])
    np.testing.assert_array_equal(series.count, [[5], [5], [5], [7], [7]])
    np.testing.assert_array_equal(series.mean[:, 0], [0, 3, 6, 9, 12])


def test_methods_without_a_reading_of_the_trait_are_left_out():
    assert of(squad(), 0).reading2.size == 1
    both = of(squad(), 1)
    np.testing.assert_array_equal(both.reading2, [2.25, 2.25])
    np.testing.assert_array_equal(both.count[:, 1], [0, 4, 0, 0, 0])
    assert both.scatter_df.shape == (2, 2)


def test_changes_start_at_the_first_session_on_or_after_their_date():
    """Ordered by player and start; one after the last session and one of nothing read are out."""
    series = of(squad(), 1)
    np.testing.assert_array_equal(series.change_first, [0, 3, 4])
    np.testing.assert_array_equal(series.change_at, [0, 1, 2, 1])
    np.testing.assert_array_equal(series.effect, [4, 2, 1, 0])
    np.testing.assert_array_equal(series.groups, [5, 7])
    np.testing.assert_array_equal(series.change_group, [1, 1, 0, 1])
    assert of(squad(), 2).change_at.size == 0


def test_levels_can_move_where_somebody_has_two_sessions_with_readings():
    assert of(squad(), 0).moving
    assert not of(squad(), 2).moving
    count = squad().count.copy()
    count[:, :, 1:] = 0
    assert not of(squad(count=count), 0).moving


def test_shot_sds_are_placed_where_scatter_and_misses_are_likeliest():
    series = of(squad(), 0)
    for p in range(2):
        x = np.linspace(0, 4, 4001)
        told = [
            scatter_terms(
                v, series.scatter[p], series.scatter_df[p], series.reading2, series.missed[p],
                series.centre[p], series.half, series.other_inside[p],
            )[0]
            for v in x
        ]  # fmt: skip
        assert series.best[p] == pytest.approx(x[np.argmax(told)], abs=0.05)
        curve = np.diff(told, 2)[np.argmax(told) - 1] / (x[1] - x[0]) ** 2
        if not series.missed[p]:  # else the expected information is more than there is
            assert series.information[p] == pytest.approx(-curve, rel=0.15)


def test_faces_are_missed_by_strikes_alone_and_by_both_directions():
    data = squad()
    toe, up = of(data, 0), of(data, 1)
    np.testing.assert_array_equal(toe.missed, [0, 3])
    np.testing.assert_array_equal(toe.centre, [0, -12])
    np.testing.assert_array_equal(up.centre, [1, 4])
    assert (toe.half, up.half) == (50, 28)
    assert toe.other_inside[0] > toe.other_inside[1]  # the second player strikes higher
    assert not of(data, 2).missed.any()


def test_which_traits_were_read():
    np.testing.assert_array_equal(squad().read(), [True, True, False])
