"""On the invented academy the drill that works is preferred to the one that does nothing."""

import pytest

from synthetic_data import AcademySpec, make_academy
from tests.recovery.test_planted_truth import log_of
from tracker.decisions.distance.gain import squad_gains
from tracker.fits.fitting import FitRequest, fit_shots

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
]

WORKS, USELESS = "tee-height ladder", "mirror swings"
TRAIT = "strike_up_mm"
LOW_MM = 2.5
"""Strike this far below its best, so that a drill that raises it by some 6 mm has work to do."""


def low_players(found):
    """Those whose strike height the working drill moves toward its best."""
    return [
        gains
        for gains in found
        for fix in gains.fixes
        if fix.trait == TRAIT and fix.now.median < fix.target - LOW_MM
    ]


def rates(gains):
    """Gain a session of every lever, by name."""
    return {lever.name: lever.gain_per_session_m for lever in gains.levers}


@pytest.mark.parametrize("seed", [1, 2])
def test_the_drill_that_works_is_preferred_to_the_one_that_does_nothing(seed):
    academy = make_academy(seed, AcademySpec())
    shots, changes = log_of(academy)
    fit, _ = fit_shots(shots, changes, FitRequest(references=("photo", "radar")))
    assert fit.problems == ()
    low = low_players(squad_gains(fit))
    assert len(low) >= 3
    for gains in low:
        found = rates(gains)
        assert found[WORKS] > found[USELESS], gains.player
        assert found[WORKS] > 0, gains.player
