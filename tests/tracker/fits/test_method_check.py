"""Reading errors from shots read twice; the published agreement is in tests/published."""

import numpy as np
import pytest

from tracker.errors import FileRefused
from tracker.fits.method_check import (
    Duplicate,
    as_json,
    from_json,
    read_duplicates,
    reading_sds,
    sd_table,
)


def test_few_pairs_stay_near_the_default_and_many_do_not():
    rng = np.random.default_rng(0)

    def found(pairs):
        readings = rng.normal(0, 3.0, (pairs, 2))
        return reading_sds(Duplicate("photo", "strike_up_mm", a, b) for a, b in readings)[0]

    few, many = found(2), found(400)
    assert 0.8 < few.sd.median < 2.6  # the table says 1 mm for a photo
    assert many.sd.median == pytest.approx(3.0, rel=0.1)
    assert many.sd.high90 - many.sd.low90 < 0.5
    assert few.advice == "read 18 more shots twice to settle it"
    assert many.advice == ""


def test_ninety_percent_intervals_cover_the_true_sd():
    rng = np.random.default_rng(1)
    inside = []
    for _ in range(600):
        truth = 1.0  # as the table says, so that the prior is right on average
        readings = rng.normal(0, truth, (12, 2))
        (row,) = reading_sds(Duplicate("photo", "strike_toe_mm", a, b) for a, b in readings)
        inside.append(row.sd.low90 <= truth <= row.sd.high90)
    assert 0.88 <= np.mean(inside) <= 0.99


def test_a_file_of_duplicates_reads_and_bad_rows_are_named():
    good = b"method,trait,first,second\nPhoto,strike_up_mm,3.5,4\nphoto,strike_up_mm,-2,-1\n"
    pairs = read_duplicates(good)
    assert pairs[0] == Duplicate("photo", "strike_up_mm", 3.5, 4.0)
    assert from_json(as_json(pairs)) == pairs
    # four pairs at 1 mm and two of half squared differences .125 and .5
    assert sd_table(pairs)["strike_up_mm", "photo"] == pytest.approx(
        np.sqrt((4 + 0.625) / 2 / 2.6740603), rel=1e-6
    )  # 2.6740603: median of a gamma distribution of shape 3
    with pytest.raises(FileRefused) as refused:
        read_duplicates(b"method,trait,first,second\n,strike_up_mm,3,4\nphoto,loft,1,2\n"
                        b"photo,attack_deg,99,x\n")  # fmt: skip
    assert [(p.line, p.column) for p in refused.value.problems] == [
        (2, "method"), (3, "trait"), (4, "first"), (4, "second"),
    ]  # fmt: skip
