"""How long an invented academy of 20,000 shots takes to make."""

import time

import pytest

from synthetic_data import AcademySpec, make_academy

pytestmark = pytest.mark.bench


def test_forty_players_of_twenty_five_sessions_take_under_five_seconds():
    start = time.perf_counter()
    spec = AcademySpec(players=40, sessions=25, shots=(20, 20), short_season_share=0.0)
    academy = make_academy(1, spec)
    seconds = time.perf_counter() - start
    print(f"{len(academy.shots)} shots in {seconds:.2f} s")
    assert len(academy.shots) == 20_000
    assert seconds < 5
