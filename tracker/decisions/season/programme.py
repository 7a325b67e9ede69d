"""What one player's next change takes from the squad's time: practice, then a retest that shows it.

Practice is what the lever takes; the retest is the cheapest design of the planner that ends in a
real verdict with 8 in 10, or else with 5 in 10, among those that the season has room for. Where
none does, the change is practised and left to the next fit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Literal

import numpy as np

from tracker.decisions.distance.gain_answer import Gains, LeverGain, Measure
from tracker.decisions.season.assignment import Demand
from tracker.decisions.verdict.retest import WANTED, Design, RetestPlan, plan_retest
from tracker.errors import BadRequest, NotEnoughData
from tracker.posterior import Fit

TRIED_SHOTS: Final = (15, 30)
"""Shots a session that a season's retests choose from: a plan for everybody has to be quick."""
LEAST_CHANCE: Final = 0.5
"""Least chance of a real verdict at which a retest is worth its time (estimate, no source)."""
MOST_A_WEEK: Final = 3
"""Most sessions a week of one player: practice wants rest between (common practice, no source)."""

BlockKind = Literal["measure", "practice", "retest"]


@dataclass(frozen=True, slots=True)
class Programme:
    """One player's next change: what it takes, and what it is worth."""

    player: str
    lever: LeverGain
    clear: bool
    """Whether the lever is clearly first."""
    practice_sessions: int
    retest: Design | None
    """None where no retest that fits would show it."""
    retest_change: float | None
    """The change that the retest is to show, the trait's unit."""
    reading: Measure | None
    """What one more measured session would be worth before choosing."""

    @property
    def key(self) -> str:
        """Return what tells it from every other programme of every season."""
        return f"{self.player}\n{self.lever.lever.key}"

    @property
    def measures_first(self) -> bool:
        """Return whether a session is read before the practice starts."""
        return self.reading is not None and self.reading.beats_acting

    def parts(self) -> tuple[tuple[BlockKind, int], ...]:
        """Return its blocks in order, each with its sessions."""
        found: list[tuple[BlockKind, int]] = []
        if self.measures_first:
            found.append(("measure", 1))
        found.append(("practice", self.practice_sessions))
        if self.retest is not None:
            found.append(("retest", self.retest.sessions))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Block:
    """Some weeks in a row of one player's programme."""

    kind: BlockKind
    start: date
    weeks: int
    sessions: int

    @property
    def end(self) -> date:
        """Return the day after its last week."""
        return self.start + timedelta(weeks=self.weeks)


def season_retest(
    fit: Fit, player: str, trait: str, threshold: float, a_week: int
) -> RetestPlan | None:
    """Return what would show the best lever of a trait at so many sessions a week.

    None where the player has too few sessions to compare with.
    """
    try:
        return plan_retest(
            fit, player, trait, threshold=threshold, shots_a_session=TRIED_SHOTS,
            gap_weeks=1 / checked_pace(a_week),
        )  # fmt: skip
    except NotEnoughData:
        return None


def programme(
    gains: Gains, retest: RetestPlan | None, *, weeks: int, a_week: int
) -> Programme | None:
    """Return a player's programme in a season of some weeks; None where no lever is worth it."""
    best = gains.best
    if best is None or best.effort_sessions is None:
        return None
    practice = int(np.ceil(best.effort_sessions - 1e-9))
    alone = Programme(gains.player, best, gains.clear, practice, None, None, gains.measure)
    left = weeks - demand_of(alone, a_week).weeks
    design = None if retest is None else chosen_design(retest.designs, left * a_week)
    return Programme(
        player=gains.player,
        lever=best,
        clear=gains.clear,
        practice_sessions=practice,
        retest=design,
        retest_change=None if retest is None or design is None else retest.change,
        reading=gains.measure,
    )


def chosen_design(designs: Sequence[Design], most_sessions: int) -> Design | None:
    """Return the cheapest design that is likely enough to show the change, of those with room."""
    room = [d for d in designs if d.sessions <= most_sessions]
    for wanted in (WANTED, LEAST_CHANCE):
        enough = [d for d in room if d.p_real >= wanted]
        if enough:
            return min(enough, key=lambda d: (d.cost_shots, d.sessions))
    return None


def demand_of(one: Programme, a_week: int) -> Demand:
    """Return what a programme takes week by week, each block in weeks of its own."""
    practice: list[int] = []
    measured: list[int] = []
    for kind, sessions in one.parts():
        held = _by_week(sessions, a_week)
        nothing = [0] * len(held)
        practice += held if kind == "practice" else nothing
        measured += nothing if kind == "practice" else held
    return Demand(one.lever.mean_gain_m, tuple(practice), tuple(measured))


def blocks_of(one: Programme, start: date, a_week: int) -> tuple[Block, ...]:
    """Return a programme's blocks when its first week begins on a day."""
    found = []
    for kind, sessions in one.parts():
        weeks = len(_by_week(sessions, a_week))
        found.append(Block(kind, start, weeks, sessions))
        start = start + timedelta(weeks=weeks)
    return tuple(found)


def checked_pace(a_week: int) -> int:
    """Return sessions a week of one player; none, or more than rest allows, is refused."""
    if not 1 <= a_week <= MOST_A_WEEK:
        raise BadRequest(
            f"sessions a week of a player: found {a_week}, wanted 1 to {MOST_A_WEEK} (rest between)"
        )
    return a_week


def _by_week(sessions: int, a_week: int) -> list[int]:
    whole, rest = divmod(sessions, checked_pace(a_week))
    return [a_week] * whole + ([rest] if rest else [])
