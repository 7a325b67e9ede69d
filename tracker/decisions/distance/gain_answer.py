"""What is said of a player's levers: the answer that pages, commands and papers show."""

from dataclasses import dataclass
from datetime import datetime

from tracker.decisions.distance.levers import Lever, LeverKind
from tracker.decisions.distance.yardstick import Yardstick
from tracker.interval import Interval


@dataclass(frozen=True, slots=True)
class LeverGain:
    """What one lever is worth to one player; gains by the yardstick, in m or points.

    A yardstick has no effort, no chance of being best and no move: how to get it is not known.
    """

    name: str
    kind: LeverKind
    trait: str | None
    move: Interval | None
    """How far the trait's level moves, + as the trait is signed."""
    effort_sessions: float | None
    gain_m: Interval
    gain50_m: tuple[float, float]
    """Ends of the equal-tailed 50 % interval, for pictures."""
    mean_gain_m: float
    gain_per_session_m: float | None
    p_best: float | None
    expected_regret_m: float | None
    """Missed over the sessions it takes by not spending them on what is best in each draw."""
    stays_inside_change: Interval
    """Change of the chance to stay inside the corridor, in points."""
    particular_gain_m: float | None
    """Mean gain beyond what an average player of the squad gets from the same lever."""
    reason: str = ""
    """What it has been seen to do."""

    @property
    def lever(self) -> Lever:
        """Return which lever it is."""
        return Lever(self.name, self.kind, self.trait)

    @property
    def per_session(self) -> Interval | None:
        """Return the gain for each session of practice; None for a yardstick."""
        if self.effort_sessions is None:
            return None
        return self.gain_m.scaled(1 / self.effort_sessions, self.gain_m.unit)

    @property
    def particular(self) -> Interval | None:
        """Return the gain beyond what an average player gets on average from the same lever."""
        if self.particular_gain_m is None:
            return None
        return self.gain_m.shifted(self.particular_gain_m - self.mean_gain_m)


@dataclass(frozen=True, slots=True)
class Fix:
    """What moving one trait toward its target is worth: the best lever of the trait.

    P(best) and regret are among the best levers of each trait.
    """

    trait: str
    lever: str
    now: Interval
    target: float
    window: tuple[float, float]
    """Levels within 1 m of the best that peers reach."""
    share: Interval
    """The share of the way to the target that the lever goes."""
    gain_m: Interval
    """As this player moves: loft and path follow a moved attack angle."""
    mean_gain_m: float
    full_fix_gain_m: Interval
    """With the trait all the way at its target."""
    gain_alone_m: Interval
    """With nothing following."""
    gain_as_player_moves_m: Interval
    """The same as ``gain_m``."""
    total_gain_m: Interval
    ball_speed_gain_mps: Interval
    spin_change_rpm: Interval
    side_change_m: Interval
    """Where it lands, + toward the open-face side."""
    p_best: float
    p_top2: float
    expected_regret_m: float
    effort_sessions: float
    target_at_edge: bool = False
    """Whether the true best may lie beyond what was looked at."""


@dataclass(frozen=True, slots=True)
class Measure:
    """The trait of which one more session of readings is worth most, and what that is."""

    trait: str
    worth_m: float
    """Over the sessions that the first lever takes, m or points."""
    read: bool
    """Whether the player has readings of it already."""
    beats_acting: bool
    """Whether it is worth more than a session of the first lever, and no trifle."""


@dataclass(frozen=True, slots=True)
class Gains:
    """One player's levers, best expected gain per session of effort first, yardsticks last.

    Empty when the fit is in doubt, so that no ranked table can be made of it.
    """

    player: str
    as_of: datetime
    yardstick: Yardstick
    carry_m: Interval
    levers: tuple[LeverGain, ...]
    fixes: tuple[Fix, ...]
    """The best levers of the traits that were read."""
    first: str | None
    """The first lever's trait; None when nothing could be a lever or none is worth taking up."""
    first_lever: str | None
    """Its name, likewise."""
    clear: bool
    tied: tuple[str, ...]
    """Traits that share the first place ..."""
    tied_levers: tuple[str, ...]
    """... and the levers."""
    measure: Measure | None
    sentence: str
    measure_next: str
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    tighter_scatter_gain_m: Interval
    unread: tuple[str, ...] = ()
    """Traits of the delivery of which the player has no reading."""
    lead: str = ""
    """The sentence without what a headline says already."""
    doubt: str = ""
    """What the first lever's gain hangs on, and how often another is better; empty without one."""
    unsure: bool = False
    """Whether none is first because what is expected of the best hangs on luck."""
    follows: str = ""
    """What a moved attack angle takes along; empty where none is to be moved."""

    @property
    def best(self) -> LeverGain | None:
        """Return the first lever; None when none is."""
        return self.levers[0] if self.first is not None else None
