"""Seasons in which the worst six are drilled: by the tool and by a paired t-test, does it "work"?

The six with the lowest readings at their middle session get a drill at the next one. Those readings
are low partly by luck, so whatever comes after looks better by itself (Galton 1886, J. Anthropol.
Inst. 15:246). The t-test is the usual one: each player's session of the choice against the mean of
the sessions after it, better or not at 5 %; beside it stands the one with all earlier sessions.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from models.traits import TRAITS
from synthetic_data import AcademySpec, PlannedDrill, make_academy
from tests.recovery.test_planted_truth import log_of
from tracker.decisions.season.what_works import WORKS, what_works
from tracker.fits.fitting import FitRequest, fit_shots

TRAIT = "strike_up_mm"
DRILL = "low-point ladder"
DRILLED = 6


@dataclass(frozen=True, slots=True)
class Claim:
    """One season: chances that the drill helps and lifts, and two tests' one-sided p-values.

    Where the six stand above their targets all the same, lifting them is no help.
    """

    p_helps: float
    p_up: float
    """Chance that the effect is upward, the way in which luck returns."""
    p_after_choice: float
    p_after_all: float
    problems: int

    @property
    def works(self) -> bool:
        """Return whether the tool says that it works."""
        return self.p_helps >= WORKS

    @property
    def lifts(self) -> bool:
        """Return whether the tool is as sure that it lifts the strike, help or not."""
        return self.p_up >= WORKS


def claims(seeds: range, effect: float = 0.0) -> list[Claim]:
    """Return what is claimed of a drill that moves everybody by ``effect`` mm, season by season."""
    return [_claim(seed, effect) for seed in seeds]


def _claim(seed: int, effect: float) -> Claim:
    drill = PlannedDrill(DRILL, TRAIT, effect, 0.0, 1.0, players=DRILLED, given_to="worst")
    shots, changes = log_of(make_academy(seed, AcademySpec(ball_data=False, drills=(drill,))))
    assert len(changes) == DRILLED
    shots = shots.reindex(columns=list(dict.fromkeys([*shots.columns, *TRAITS])))
    shots[[name for name in TRAITS if name != TRAIT]] = np.nan  # one trait is sampled, not seven
    fit, _ = fit_shots(shots, changes, FitRequest(seed=seed, references=("photo", "radar")))
    ((row,),) = (one.rows for one in what_works(fit, TRAIT))
    assert row.name == DRILL
    first, every = (_paired(shots, changes, all_before=b) for b in (False, True))
    return Claim(row.p_helps, row.p_positive, first, every, len(fit.problems_of(TRAIT)))


def _paired(shots: pd.DataFrame, changes, *, all_before: bool) -> float:
    """Return the one-sided p-value of a paired t-test on players' means."""
    before, after = [], []
    for change in changes:
        mine = shots[shots["player"] == change.player].groupby("session")[TRAIT].mean().dropna()
        early = mine[mine.index < pd.Timestamp(change.start)]
        before.append(early.mean() if all_before else early.iloc[-1])
        after.append(mine[mine.index >= pd.Timestamp(change.start)].mean())
    return float(stats.ttest_rel(after, before, alternative="greater").pvalue)
