import numpy as np
import pandas as pd
import pytest

from tracker.readings.session_summary import ShotIndex, trait_summary


def one_session(values, method="photo"):
    shots = pd.DataFrame(
        {"strike_up_mm": values, "strike_method": method, "delivery_method": "radar"}
    )
    zeros = np.zeros(len(values), dtype=np.int64)
    return trait_summary(shots, "strike_up_mm", ShotIndex(zeros, zeros, 1, 1), ())


def test_clean_readings_give_their_mean_and_sum_of_squares():
    values = [1.0, 2.0, 3.0, 4.0, 6.0]
    found = one_session(values)
    assert found.count.item() == 5
    assert found.mean.item() == pytest.approx(3.2)
    assert found.scatter.item() == pytest.approx(14.8)
    assert found.scatter_df.item() == pytest.approx(4)


def test_a_gross_misread_moves_nothing():
    clean = list(np.random.default_rng(0).normal(3, 2, 20))
    with_misread = one_session([*clean, 38.0])
    assert with_misread.mean.item() == pytest.approx(np.mean(clean), abs=1e-9)
    assert with_misread.count.item() == pytest.approx(20)
    assert with_misread.readings.item() == 21


def test_heavy_tails_make_the_scatter_less_well_known():
    rng = np.random.default_rng(1)
    normal = one_session(list(rng.normal(0, 5, 4000)))
    heavy = one_session(list(np.clip(rng.standard_t(5, 4000), -6, 6) * 5))
    assert normal.scatter_df.item() / 3999 == pytest.approx(1, abs=0.08)
    assert heavy.scatter_df.item() / heavy.count.item() < 0.75


def test_missing_readings_count_for_nothing():
    found = one_session([1.0, np.nan, 3.0])
    assert found.readings.item() == 2
    assert found.mean.item() == pytest.approx(2.0)


def test_the_reference_is_the_named_then_the_finest_then_the_most_used_method():
    shots = pd.DataFrame(
        {
            "strike_up_mm": [1.0, 2.0, 3.0, 4.0],
            "attack_deg": [1.0, 2.0, 3.0, 4.0],
            "strike_method": ["spray", "spray", "spray", "photo"],
            "delivery_method": ["one", "one", "one", "two"],
        }
    )
    zeros = np.zeros(4, dtype=np.int64)
    index = ShotIndex(zeros, zeros, 1, 1)
    assert trait_summary(shots, "strike_up_mm", index, ()).methods == ("photo", "spray")
    assert trait_summary(shots, "attack_deg", index, ()).methods == ("one", "two")
    assert trait_summary(shots, "attack_deg", index, ("two",)).methods == ("two", "one")


def test_two_shots_in_all_can_be_summarised():
    found = one_session([4.0, 6.0])
    assert found.mean.item() == pytest.approx(5.0)
    assert found.count.item() == 2


def test_whole_millimetres_widen_the_reading_sd_of_the_table():
    read = np.random.default_rng(5).normal(0, 6, 40)
    assert one_session(list(read)).reading_sd.item() == 1.0
    assert one_session(list(np.round(read))).reading_sd.item() == pytest.approx(np.sqrt(1 + 1 / 12))


def test_a_reading_sd_from_duplicates_holds_the_rounding_already():
    shots = pd.DataFrame(
        {
            "strike_up_mm": np.round(np.random.default_rng(5).normal(0, 6, 40)),
            "strike_method": "photo",
            "delivery_method": "radar",
        }
    )
    zeros = np.zeros(40, dtype=np.int64)
    known = {("strike_up_mm", "photo"): 0.8}
    found = trait_summary(shots, "strike_up_mm", ShotIndex(zeros, zeros, 1, 1), (), known)
    assert found.reading_sd.item() == 0.8
