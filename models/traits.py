"""The one table of what is measured: each row holds everything that is known of one trait.

Every trait is stored in the SI-like unit of its column suffix. Signs are the same for right- and
left-handers. Prior scales are for a squad of golfers hitting drivers; between-player and
shot-to-shot sizes are estimates (direction from Betzler, Monk, Wallace & Otto 2012, J. Sports
Sci. 30:439; attack between professionals 2.4 deg from Suzuki et al. 2021, Open Sports Sci. J.
14:137), so the model treats them as weakly informative scales, never as facts.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Group = Literal["strike", "delivery", "ball"]
Quantity = Literal["strike", "angle", "speed", "spin", "distance", "ratio"]
Goal = Literal["target", "more", "none"]
MethodColumn = Literal["strike_method", "delivery_method"]


@dataclass(frozen=True, slots=True)
class Prior:
    """Prior scales of a modelled trait, in the trait's unit."""

    mean: float
    """Level at which an average player of a squad is expected."""
    mean_sd: float
    """How surely, as an SD."""
    between_scale: float
    """How far players differ; scale of the half-normal of the SD between them."""
    shot_sd: float
    """How far one player's shots of one day may differ, as an SD."""
    session_scale: float
    """The same of one player's days; scale of a half-normal."""
    drift_scale: float
    """How far a level may creep, per square root of a week."""
    change_scale: float
    """How much a change that works moves a level; drills and unlogged changes are scaled by it."""
    bias_scale: float
    """How far one way of reading may be off another, as an SD."""
    log_shot_sd_spread: float = 0.25
    """Prior median of how far players differ in log shot SD."""


@dataclass(frozen=True, slots=True)
class Words:
    """How a trait is spoken of in a sentence."""

    below: str
    """What is wrong when the level is below its target."""
    above: str
    """What is wrong when the level is above its target."""
    more: str
    """How a day above the tendency differs, after "today: strike 3 mm ..."."""
    less: str
    """How a day below the tendency differs."""
    subject: str
    """What differs so."""
    below_zero: str = ""
    """What is wrong below the target where the level is below 0 too; ``below`` when empty."""
    most: str = "highest"
    """What is best on the squad's list where more is better, such as "fastest"."""


@dataclass(frozen=True, slots=True)
class InDrive:
    """How carry depends on a trait that decides a drive; lengths in the trait's unit."""

    step: float
    """Half the distance over which the slope of carry is taken."""
    drags: str = ""
    """Trait that follows by the drawn share of delivered loft when this one moves."""
    turns: str = ""
    """Trait that turns with the inclined plane of the swing when this one moves."""


@dataclass(frozen=True, slots=True)
class Trait:
    """One measured quantity: how it is read, shown, spoken of, modelled and judged."""

    name: str
    """Column of the shot log; it ends in the suffix of the stored unit."""
    label: str
    """Plain name."""
    unit: str
    """Stored unit as text."""
    positive: str
    """What more of it is."""
    negative: str
    """What less of it is."""
    low: float
    """Least plausible reading."""
    high: float
    """Largest plausible reading."""
    group: Group
    """What is read together: the strike, the rest of the delivery, the ball."""
    quantity: Quantity
    """What decides the units it is shown in."""
    decimals: int = 1
    """Decimals of a stored value."""
    prior: Prior | None = None
    """Prior scales; None for what the tendency model leaves out."""
    reading_sd: float = 0.0
    """SD of one reading by a method whose name says nothing, trait's unit."""
    reading_sd_by_method: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    """The same by a word in the method's name."""
    goal: Goal = "none"
    """``target``: there is a best level; ``more``: more is better; ``none``: neither."""
    signed: bool = True
    """Whether a level is said with its sign; False for what is never below 0."""
    words: Words | None = None
    """Sentences of its own; ``spoken`` stands in with the label."""
    caution: str = ""
    """Safety sentence beside a plan that works on it."""
    drive: InDrive | None = None
    """How carry depends on it; None for what the flight does not know."""

    @property
    def method_column(self) -> MethodColumn:
        """Return the column of the shot log that says how it was read."""
        return "strike_method" if self.group == "strike" else "delivery_method"

    @property
    def spoken(self) -> Words:
        """Return the words of sentences about the trait."""
        return self.words or Words(
            below=f"{self.label} too low",
            above=f"{self.label} too high",
            more=self.positive,
            less=self.negative,
            subject=self.label,
        )

    def default_reading_sd(self, method: str) -> float:
        """Return the SD of one reading by ``method`` (free words), in the trait's unit.

        Placeholders until duplicates have been read (common practice, no source).
        """
        words = method.lower()
        for word, sd in self.reading_sd_by_method.items():
            if word in words:
                return sd
        return self.reading_sd


def _prior(
    *,
    mean: float,
    mean_sd: float,
    between: float,
    shot_sd: float,
    change: float,
    bias: float,
) -> Prior:
    """Return prior scales whose days and weeks are a share of the shots' scatter."""
    return Prior(
        mean=mean,
        mean_sd=mean_sd,
        between_scale=between,
        shot_sd=shot_sd,
        session_scale=0.4 * shot_sd,
        drift_scale=0.03 * shot_sd,
        change_scale=change,
        bias_scale=bias,
    )


_STRIKE_SD = MappingProxyType({"photo": 1.0, "camera": 1.0, "spray": 2.5, "powder": 2.5})

# Cautions are common practice, no source.
_TRAITS = (
    Trait(
        "strike_toe_mm", "strike across the face", "mm", "toward the toe", "toward the heel",
        -60, 60, "strike", "strike", 1,
        _prior(mean=0, mean_sd=8, between=8, shot_sd=9, change=6, bias=2),
        reading_sd=2.0, reading_sd_by_method=_STRIKE_SD,
        goal="target",
        words=Words(
            "strike toward the heel", "strike too far toward the toe",
            "further toward the toe", "further toward the heel", "strike",
        ),
        drive=InDrive(step=1.0),
    ),
    Trait(
        "strike_up_mm", "strike height", "mm", "toward the crown", "toward the sole",
        -40, 40, "strike", "strike", 1,
        _prior(mean=0, mean_sd=6, between=6, shot_sd=6.5, change=5, bias=2),
        reading_sd=2.0, reading_sd_by_method=_STRIKE_SD,
        goal="target",
        words=Words("strike too low", "strike too high", "higher", "lower", "strike"),
        drive=InDrive(step=1.0),
    ),
    Trait(
        "attack_deg", "attack angle", "deg", "upward", "downward",
        -15, 15, "delivery", "angle", 1,
        _prior(mean=-1, mean_sd=2.5, between=2.6, shot_sd=1.2, change=2, bias=0.6),
        reading_sd=0.5,
        goal="target",
        words=Words(
            "not hitting up enough", "hitting up too much",
            "more upward", "more downward", "attack angle",
            below_zero="hitting down too much",
        ),
        caution="Hitting up more bends and turns the lower back more: build up over weeks, and "
        "leave it alone with a sore back.",
        drive=InDrive(step=0.25, drags="loft_deg", turns="path_deg"),
    ),
    Trait(
        "club_speed_mps", "club speed", "m/s", "faster", "slower",
        15, 70, "delivery", "speed", 1,
        _prior(mean=44, mean_sd=5, between=4, shot_sd=0.65, change=1, bias=0.5),
        reading_sd=0.3,
        goal="more",
        signed=False,
        words=Words(
            "club speed lower than it could be", "club speed higher than planned",
            "faster", "slower", "club speed",
            most="fastest",
        ),
        caution="Full-effort swings load back, elbow and wrist: warm up first and rest between "
        "sets.",
        drive=InDrive(step=0.25),
    ),
    Trait(
        "loft_deg", "delivered loft", "deg", "more", "less",
        -5, 45, "delivery", "angle", 1,
        _prior(mean=14, mean_sd=3, between=2.5, shot_sd=1.3, change=1.5, bias=0.8),
        reading_sd=0.6,
        goal="target",
        signed=False,
        words=Words(
            "too little delivered loft", "too much delivered loft",
            "higher", "lower", "delivered loft",
        ),
        drive=InDrive(step=0.25),
    ),
    Trait(
        "path_deg", "club path", "deg", "in-to-out", "out-to-in",
        -25, 25, "delivery", "angle", 1,
        _prior(mean=0, mean_sd=3, between=3.5, shot_sd=1.8, change=2, bias=0.6),
        reading_sd=0.5,
        goal="target",
        words=Words(
            "swinging too far out-to-in", "swinging too far in-to-out",
            "more in-to-out", "more out-to-in", "club path",
        ),
        caution="A forced path change loads the lead hip and knee: keep early swings easy.",
        drive=InDrive(step=0.25),
    ),
    Trait(
        "face_deg", "face angle to target", "deg", "open", "closed",
        -30, 30, "delivery", "angle", 1,
        _prior(mean=0, mean_sd=2.5, between=2.5, shot_sd=2.2, change=1.5, bias=0.6),
        reading_sd=0.6,
        goal="target",
        words=Words("face too closed", "face too open", "more open", "more closed", "face"),
        caution="A new grip can strain thumb and wrist: short spells at first.",
        drive=InDrive(step=0.25),
    ),
    Trait(
        "ball_speed_mps", "ball speed", "m/s", "faster", "slower",
        10, 105, "ball", "speed", 1, reading_sd=0.3,
    ),
    Trait(
        "launch_deg", "launch angle", "deg", "upward", "downward",
        -20, 60, "ball", "angle", 1, reading_sd=0.4,
    ),
    Trait(
        "side_deg", "launch direction", "deg",
        "toward the open-face side", "toward the closed-face side",
        -45, 45, "ball", "angle", 1, reading_sd=0.4,
    ),
    Trait("spin_rpm", "spin", "rpm", "more", "less", 0, 14000, "ball", "spin", 0, reading_sd=100.0),
    Trait(
        "axis_deg", "spin axis tilt", "deg",
        "toward the open-face side", "toward the closed-face side",
        -80, 80, "ball", "angle", 1, reading_sd=1.5,
    ),
    Trait(
        "carry_m", "carry", "m", "longer", "shorter", 0, 420, "ball", "distance", 0, reading_sd=2.5
    ),
    Trait(
        "total_m", "total", "m", "longer", "shorter", 0, 480, "ball", "distance", 0, reading_sd=5.0
    ),
)  # fmt: skip

TRAITS: Mapping[str, Trait] = MappingProxyType({t.name: t for t in _TRAITS})
"""Every trait by column name, in the order of the shot log."""

MODELLED: tuple[str, ...] = tuple(t.name for t in _TRAITS if t.prior is not None)
"""Traits with a hierarchical prior."""

DELIVERY: tuple[str, ...] = tuple(t.name for t in _TRAITS if t.drive is not None)
"""The traits that decide a drive, in the order of the last axis of an array of deliveries."""

TARGETED: tuple[str, ...] = tuple(
    t.name for t in _TRAITS if t.drive is not None and t.goal == "target"
)
"""The traits of ``DELIVERY`` with a best level: what a coach may aim a lever at."""

STRIKES: tuple[str, str] = ("strike_toe_mm", "strike_up_mm")
"""Where on the face the ball is struck: across, up."""

FACE_HALF_MM: tuple[float, float] = (50.0, 28.0)
"""How far from its centre a driver's face can be struck and the mark still be read: across, up."""

BALL: tuple[str, ...] = tuple(t.name for t in _TRAITS if t.group == "ball")
"""What the ball did."""


def in_drive(trait: str) -> InDrive:
    """Return how carry depends on a trait of ``DELIVERY``; ``ValueError`` for another."""
    found = TRAITS[trait].drive
    if found is None:
        raise ValueError(f"{trait} does not decide a drive")
    return found


def prior_of(trait: str) -> Prior:
    """Return the prior scales of a trait of ``MODELLED``; ``ValueError`` for another."""
    found = TRAITS[trait].prior
    if found is None:
        raise ValueError(f"{trait} has no prior: it is not modelled")
    return found
