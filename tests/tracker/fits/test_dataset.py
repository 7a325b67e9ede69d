from datetime import date

import numpy as np
import pandas as pd
import pytest

from models.traits import MODELLED
from tracker.errors import NotEnoughData
from tracker.fits.dataset import squad_data
from tracker.records import Change


def table(rows):
    frame = pd.DataFrame(rows, columns=["player", "session", "strike_up_mm", "attack_deg"])
    frame["session"] = pd.to_datetime(frame["session"])
    for trait in MODELLED:
        if trait not in frame:
            frame[trait] = np.nan
    return frame.assign(handed="right", strike_method="photo", delivery_method="radar")


ROWS = [
    ("Bo", "2026-03-15", 4.0, 1.0),
    ("Ann", "2026-03-01", 1.0, -1.0),
    ("Ann", "2026-03-01", 3.0, np.nan),
    ("Ann", "2026-03-22", 5.0, 2.0),
]
UP = MODELLED.index("strike_up_mm")
ATTACK = MODELLED.index("attack_deg")


def test_sessions_stand_in_the_players_own_order_with_weeks_between():
    squad = squad_data(table(ROWS), ())
    assert [p.name for p in squad.players] == ["Ann", "Bo"]
    np.testing.assert_allclose(squad.model.gap, [[0, 3], [0, 0]])
    np.testing.assert_allclose(squad.model.week, [[0, 3], [2, np.inf]])
    assert np.isnat(squad.session_start[1, 1])
    np.testing.assert_allclose(squad.model.mean[0, :, :, UP], [[2, 5], [4, 0]])
    np.testing.assert_allclose(squad.readings[0, :, :, ATTACK], [[1, 1], [1, 0]])
    np.testing.assert_allclose(squad.raw_mean[1, :, UP], [4, np.nan])


def test_the_order_of_rows_does_not_matter():
    first, second = squad_data(table(ROWS), ()), squad_data(table(ROWS[::-1]), ())
    np.testing.assert_array_equal(first.model.mean, second.model.mean)
    np.testing.assert_array_equal(first.model.count, second.model.count)
    np.testing.assert_array_equal(first.session_start, second.session_start)


def test_a_change_acts_from_its_day_on_its_trait_and_without_trait_on_all():
    changes = (
        Change("Ann", date(2026, 3, 22), "drill", "ladder", "strike_up_mm"),
        Change("Bo", date(2026, 3, 1), "equipment", "new head"),
        Change("Stranger", date(2026, 3, 1), "drill", "ladder", "strike_up_mm"),
    )
    squad = squad_data(table(ROWS), changes)
    assert [c.player for c in squad.changes] == ["Ann", "Bo"]
    assert squad.change_names == ("ladder", "new head")
    assert squad.model.change_week[0] == pytest.approx(3.0)
    assert len(squad.model.effect_change) == 1 + len(MODELLED)
    assert squad.model.effect_trait[0] == UP


def test_correlated_traits_are_found_and_freed_of_reading_error():
    rng = np.random.default_rng(3)
    size = 4000
    common = rng.normal(size=size)
    up = 6.0 * (0.8 * common + 0.6 * rng.normal(size=size))
    attack = 1.0 * (0.8 * common + 0.6 * rng.normal(size=size))
    frame = table([("Ann", "2026-03-01", 0.0, 0.0)] * size)
    frame["strike_up_mm"] = up + rng.normal(0, 1.0, size)  # a photo's reading SD
    frame["attack_deg"] = attack + rng.normal(0, 0.5, size)  # the table's reading SD
    model = squad_data(frame, ()).model
    pair = [*zip(*np.triu_indices(len(MODELLED), 1), strict=True)].index((UP, ATTACK))
    assert np.tanh(model.pair_z[0, pair]) == pytest.approx(0.64, abs=0.03)
    assert not np.isfinite(model.pair_variance[0, 0])  # strike toe was never read


def test_a_log_without_any_club_reading_is_refused_with_the_remedy():
    frame = table(ROWS)
    frame[list(MODELLED)] = np.nan
    with pytest.raises(NotEnoughData, match="load a shot log first"):
        squad_data(frame, ())
