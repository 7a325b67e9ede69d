"""What is planted: the seven traits, the skill tiers, the methods and the drills.

Within-player and between-player spreads of delivery are estimates (their direction follows
Betzler, Monk, Wallace & Otto 2012, J. Sports Sci. 30:439; the professionals' spread of attack
follows Suzuki et al. 2021, Open Sports Sci. J. 14:137). Levels of strike, path and face, and
every bias, are inventions of this scenario.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal

TRAITS = (
    "strike_toe_mm",
    "strike_up_mm",
    "attack_deg",
    "club_speed_mps",
    "loft_deg",
    "path_deg",
    "face_deg",
)
BALL_TRAITS = (
    "ball_speed_mps",
    "launch_deg",
    "side_deg",
    "spin_rpm",
    "axis_deg",
    "carry_m",
    "total_m",
)
STRIKE = slice(0, 2)
DELIVERY = slice(2, 7)
TOE, UP, ATTACK, SPEED, LOFT, PATH, FACE = range(7)

MPS_PER_MPH = 0.44704
M_PER_YD = 0.9144


@dataclass(frozen=True, slots=True)
class Tier:
    """One skill tier; tuples are in the order of ``TRAITS`` and in their units.

    ``level_sd`` of loft is what is left once loft has followed attack; ``shot_sd`` of loft is
    the whole.
    """

    name: str
    share: float
    level_mean: tuple[float, ...]
    level_sd: tuple[float, ...]
    shot_sd: tuple[float, ...]


def _mph(value: float) -> float:
    return value * MPS_PER_MPH


TIERS = (
    Tier(
        "elite",
        0.22,
        level_mean=(1.0, 2.0, -0.5, _mph(113), 12.3, 0.0, 0.0),
        level_sd=(3.5, 3.0, 2.4, _mph(5), 0.8, 2.0, 1.0),
        shot_sd=(6.0, 4.5, 0.8, _mph(0.9), 0.9, 1.2, 1.3),
    ),
    Tier(
        "mid",
        0.43,
        level_mean=(-1.0, -1.0, -1.0, _mph(97), 14.0, -1.0, 0.5),
        level_sd=(5.0, 4.5, 2.6, _mph(8), 1.2, 3.0, 1.5),
        shot_sd=(9.0, 6.5, 1.2, _mph(1.4), 1.3, 1.8, 2.2),
    ),
    Tier(
        "high",
        0.35,
        level_mean=(-3.0, -3.0, -1.5, _mph(88), 15.5, -2.5, 1.2),
        level_sd=(6.0, 5.0, 3.0, _mph(9), 1.5, 3.5, 2.0),
        shot_sd=(12.0, 8.5, 1.8, _mph(2.0), 1.8, 2.6, 3.2),
    ),
)

SHOT_CORRELATION: Mapping[tuple[int, int], float] = MappingProxyType(
    {
        (TOE, PATH): -0.25,
        (TOE, FACE): 0.10,
        (TOE, SPEED): 0.10,
        (UP, ATTACK): -0.30,
        (ATTACK, PATH): -0.40,
        (LOFT, FACE): 0.35,
        (PATH, FACE): 0.30,
    }
)
"""Within-player correlations before loft follows attack; a player has 60 to 100 % of them."""

SESSION_SD_SHARE = (0.32, 0.35, 0.38, 0.35, 0.32, 0.36, 0.30)
"""Session SD as a share of the mid tier's shot SD: one number a trait, the same for everyone."""

DRIFT_SHARE_PER_SQRT_WEEK = (0.05, 0.05, 0.06, 0.05, 0.05, 0.05, 0.04)
"""Random-walk SD of the level in one week, as a share of the mid tier's shot SD."""


@dataclass(frozen=True, slots=True)
class Method:
    """A way of reading traits: its bias and the SD of its error, by trait, in trait units."""

    name: str
    bias: Mapping[str, float]
    sd: Mapping[str, float]


STRIKE_METHODS = (
    Method("photo", bias={}, sd={"strike_toe_mm": 1.0, "strike_up_mm": 1.0}),
    Method(
        "spray",
        bias={"strike_toe_mm": 1.5, "strike_up_mm": -2.0},
        sd={"strike_toe_mm": 2.5, "strike_up_mm": 2.5},
    ),
)
DELIVERY_METHODS = (
    Method(
        "radar",
        bias={},
        sd={
            "attack_deg": 0.5,
            "club_speed_mps": 0.25,
            "loft_deg": 0.6,
            "path_deg": 0.6,
            "face_deg": 0.6,
        },
    ),
    Method(
        "camera",
        bias={"attack_deg": -0.6, "loft_deg": 0.7},
        sd={
            "attack_deg": 0.4,
            "club_speed_mps": 0.35,
            "loft_deg": 0.4,
            "path_deg": 0.4,
            "face_deg": 0.4,
        },
    ),
)
"""The first of each pair is unbiased."""

BALL_READING_SD: Mapping[str, float] = MappingProxyType(
    {
        "ball_speed_mps": 0.2,
        "launch_deg": 0.2,
        "side_deg": 0.2,
        "spin_rpm": 60.0,
        "axis_deg": 1.0,
        "carry_m": 1.5,
        "total_m": 3.0,
    }
)

GROSS_ERROR: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "strike_toe_mm": (25.0, 40.0),
        "strike_up_mm": (15.0, 25.0),
        "attack_deg": (6.0, 10.0),
        "club_speed_mps": (6.0, 12.0),
        "loft_deg": (8.0, 12.0),
        "path_deg": (9.0, 14.0),
        "face_deg": (10.0, 16.0),
        "ball_speed_mps": (8.0, 15.0),
        "launch_deg": (6.0, 10.0),
        "side_deg": (8.0, 12.0),
        "spin_rpm": (1500.0, 3000.0),
        "axis_deg": (20.0, 30.0),
        "carry_m": (25.0, 50.0),
        "total_m": (25.0, 50.0),
    }
)
"""Smallest and largest size of a gross misread, either sign, by trait."""

READABLE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "strike_toe_mm": (-60.0, 60.0),
        "strike_up_mm": (-40.0, 40.0),
        "attack_deg": (-15.0, 15.0),
        "club_speed_mps": (15.0, 70.0),
        "loft_deg": (-5.0, 45.0),
        "path_deg": (-25.0, 25.0),
        "face_deg": (-30.0, 30.0),
        "ball_speed_mps": (10.0, 105.0),
        "launch_deg": (-20.0, 60.0),
        "side_deg": (-45.0, 45.0),
        "spin_rpm": (100.0, 14000.0),
        "axis_deg": (-80.0, 80.0),
        "carry_m": (0.0, 420.0),
        "total_m": (0.0, 480.0),
    }
)
"""Range a device reports; outside it the reading is missing."""

FACE_HALF_MM = (50.0, 28.0)
"""Half width and half height of the ellipse on the face that leaves a readable mark."""

GivenTo = Literal["any", "low", "worst", "slump"]


@dataclass(frozen=True, slots=True)
class PlannedDrill:
    """A drill, who gets it and what it truly does to their level from its start.

    ``responders`` is the share of those given it in whom it works (by Normal(effect, effect_sd));
    in the rest it does exactly nothing. ``given_to``: ``any`` draws players at random, ``low``
    at random from those whose first sessions read in the lower two thirds, ``worst`` takes the
    lowest readings in the session before the start, ``slump`` takes those whose latest session
    fell furthest below their own average (and starts at the next).
    """

    name: str
    trait: str
    effect: float
    effect_sd: float
    responders: float
    players: int
    given_to: GivenTo = "any"
    effort_sessions: float = 1.0


DRILLS = (
    PlannedDrill("tee-height ladder", "strike_up_mm", 6.0, 1.0, 1.0, players=7, given_to="low"),
    PlannedDrill("mirror swings", "path_deg", 0.0, 0.0, 0.0, players=5, given_to="slump"),
    PlannedDrill(
        "forward ball position",
        "attack_deg",
        2.5,
        0.0,
        0.5,
        players=8,
        given_to="low",
        effort_sessions=2.0,
    ),
)


@dataclass(frozen=True, slots=True)
class AcademySpec:
    """Size and troubles of one academy; the defaults are the demo.

    ``session_sd_follows_player`` makes each session SD a share of the player's own shot SD
    (a world the model does not assume) in place of one SD per trait. ``ball_data=False`` skips
    the flights and leaves the ball columns out.
    """

    players: int = 14
    sessions: int = 10
    shots: tuple[int, int] = (12, 24)
    first_day: date = date(2026, 3, 7)
    last_day: date = date(2026, 8, 8)
    left_handers: int = 2
    drills: tuple[PlannedDrill, ...] = DRILLS
    kappa: float = 0.6
    tail_df: float = 5.0
    session_sd_follows_player: bool = False
    short_season_share: float = 0.2
    gap_share: float = 0.3
    method_switch_share: float = 0.35
    misread_share: float = 0.01
    strike_missing_share: float = 0.04
    delivery_missing_share: float = 0.05
    ball_missing_share: float = 0.07
    session_without_strike_share: float = 0.06
    session_without_ball_share: float = 0.12
    missed_face_possible: bool = True
    ball_data: bool = True
    altitude_m: float = 120.0

    def __post_init__(self) -> None:
        """Raise ValueError for a size that cannot be made."""
        days = (self.last_day - self.first_day).days
        if not 1 <= self.sessions <= days:
            raise ValueError(f"sessions: found {self.sessions}, wanted 1 to {days} (the season)")
        if self.players < 1 or self.shots[0] < 1 or self.shots[1] < self.shots[0]:
            raise ValueError(
                f"found {self.players} players and shots {self.shots}; wanted at least one player "
                "and shots as (fewest, most) from 1 up"
            )
        if self.tail_df <= 2:
            raise ValueError(f"tail_df: found {self.tail_df}, wanted more than 2 (a finite SD)")
        for drill in self.drills:
            if drill.trait not in TRAITS:
                raise ValueError(f"drill {drill.name}: found trait {drill.trait!r}, not in TRAITS")


def session_sd() -> dict[str, float]:
    """Return the planted SD of session effects by trait, in trait units."""
    mid = TIERS[1].shot_sd
    return {t: s * sd for t, s, sd in zip(TRAITS, SESSION_SD_SHARE, mid, strict=True)}


def drift_sd_per_sqrt_week() -> dict[str, float]:
    """Return the planted random-walk SD of the level by trait, in trait units per week^(1/2)."""
    mid = TIERS[1].shot_sd
    return {t: s * sd for t, s, sd in zip(TRAITS, DRIFT_SHARE_PER_SQRT_WEEK, mid, strict=True)}
