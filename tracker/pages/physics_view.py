"""What the physics page says: how far predictions miss, and what the squad's balls taught."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from models.drive_parameters import (
    CG_HEIGHT_SD_M,
    KAPPA_MEAN,
    KAPPA_SD,
    SHAPE_NAMES,
    prior_moments,
)
from tracker.charts.agreement import Agreement
from tracker.decisions.cloud import averaged, player_cloud
from tracker.interval import Interval
from tracker.pages.phrases import counted, distance, distance_display, start_of_sentence
from tracker.pages.phrases import trait_label as label_of
from tracker.posterior import BallCheck, Fit, ball_checks, is_calibrated, physics_draws
from tracker.units import Display, System, plain_zero, trait_display

Floats = NDArray[np.float64]
Rows = tuple[tuple[str, ...], ...]

MISS_COLUMNS = (
    "Quantity", "Sessions", "Typical miss, learned physics", "Typical miss, published physics",
    "Of it luck of few shots", "Differences explained",
)  # fmt: skip
CONSTANT_COLUMNS = ("What", "Learned here", "Published", "How much the balls told")

LOOKED_AT = (200, 16, 12)
"""Draws, shots and players from which the doubt about the level of carry is worked out."""
RESAMPLED = 2000
FEWEST_PLAYERS = 4
"""Players from which on misses are resampled by player rather than by session."""
Z90 = 1.6448536269514722
ORDER = ("ball_speed_mps", "launch_deg", "spin_rpm", "carry_m")

FACTOR_SD: Mapping[str, float] = MappingProxyType({"drag_factor": 0.025, "lift_factor": 0.05})
"""Prior SD of the factors on drag and lift; they stand at 1 without ball data."""

CONSTANT_WORDS: Mapping[str, tuple[str, str, float, int]] = MappingProxyType(
    {
        "restitution": ("How lively the face is (restitution)", "", 1.0, 3),
        "cg_height_m": ("Height of the head's balance point on the face", "mm", 1000.0, 1),
        "gear_gain": ("How strongly an off-centre strike turns into spin", "times", 1.0, 2),
        "tangential_restitution": ("How much the ball springs back along the face", "", 1.0, 2),
        "loft_follows_attack": ("Loft that comes with one degree of attack", "°", 1.0, 2),
        "drag_factor": ("Drag of the balls against the published ball", "times", 1.0, 3),
        "lift_factor": ("Lift of the balls against the published ball", "times", 1.0, 3),
        "turf_tilt_factor": ("How steeply the turf catches the ball", "times", 1.0, 2),
        "roll_friction_factor": ("How soon the turf stops a rolling ball", "times", 1.0, 2),
        "drag_constant": ("Drag without spin", "", 1.0, 3),
        "drag_spin": ("Drag that spin adds", "", 1.0, 3),
        "drag_spin_squared": ("Drag that high spin adds", "", 1.0, 2),
        "drag_reynolds": ("Drag that falls away with speed", "", 1.0, 3),
        "lift_scale": ("Lift that spin gives", "", 1.0, 3),
        "lift_exponent": ("How lift grows with spin (power)", "", 1.0, 3),
    }
)
"""A constant in plain words, its shown unit, factor and decimals."""


@dataclass(frozen=True, eq=False, slots=True)
class Miss:
    """How far predictions of one quantity miss, in the shown unit."""

    trait: str
    sessions: int
    players: int
    learned: Interval
    published: Interval
    luck: float
    explained: Interval
    bias: Interval
    """Read less predicted, on average."""


@dataclass(frozen=True, eq=False, slots=True)
class PhysicsView:
    """Everything the physics page shows."""

    headline: str
    lead: str
    problems: tuple[str, ...]
    panels: tuple[Agreement, ...]
    picture_text: str
    misses: Rows
    remarks: tuple[str, ...]
    constants: Rows
    flight: Rows
    wanted: tuple[str, ...]
    """What to record so that the page has something to say; empty once it has."""

    @property
    def usable(self) -> bool:
        """Return whether numbers may be shown."""
        return not self.problems


def physics_view(fit: Fit, system: System, ball_shots: int = 0) -> PhysicsView:
    """Return how well the physics fits a squad and what was learned.

    ``ball_shots`` is how many stored shots have ball speed, launch and spin.
    """
    if fit.problems:
        return _bare("No answer from this fit.", "Fit again.", fit.problems)
    checks = ball_checks(fit)
    if not checks and not is_calibrated(fit):
        return _without_balls(fit, system, ball_shots)
    by_trait = {t: [c for c in checks if c.trait == t] for t in ORDER}
    by_trait = {t: found for t, found in by_trait.items() if found}
    misses = [miss(found, trait_display(t, system)) for t, found in by_trait.items()]
    constants = _constants(fit)
    return PhysicsView(
        headline=_headline(misses, system),
        lead=_lead(misses, system),
        problems=(),
        panels=tuple(_panel(t, found, system) for t, found in by_trait.items()),
        picture_text="; ".join(_in_words(m, system) for m in misses) + "." if misses else "",
        misses=tuple(_miss_row(m, system) for m in misses),
        remarks=_remarks(misses, fit, system),
        constants=tuple(row for name, row in constants.items() if name not in SHAPE_NAMES),
        flight=tuple(row for name, row in constants.items() if name in SHAPE_NAMES),
        wanted=(),
    )


def miss(checks: Sequence[BallCheck], how: Display) -> Miss:
    """Return how far predictions miss: root mean square, with 90 % by resampling players.

    ``explained`` is 1 - sum of squared misses / sum of squares around the mean reading.
    """
    read = np.array([c.observed for c in checks]) * how.factor
    learned = read - np.array([c.predicted for c in checks]) * how.factor
    published = read - np.array([c.uncalibrated for c in checks]) * how.factor
    errors = np.array([c.standard_error for c in checks]) * how.factor
    weight = _resampled([c.player for c in checks])
    total = weight.sum(axis=1)

    def typical(away: Floats) -> Floats:
        return np.asarray(np.sqrt(weight @ away**2 / total))

    middle = weight @ read / total
    around = weight @ read**2 - total * middle**2
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(around > 0, 1 - (weight @ learned**2) / around, np.nan)
    share = share[np.isfinite(share)]
    spread = float(((read - read.mean()) ** 2).sum())
    return Miss(
        trait=checks[0].trait,
        sessions=len(checks),
        players=len({c.player for c in checks}),
        learned=_around(float(np.sqrt((learned**2).mean())), typical(learned), how.unit),
        published=_around(float(np.sqrt((published**2).mean())), typical(published), how.unit),
        luck=float(np.sqrt((errors**2).mean())),
        explained=_around(
            1 - float((learned**2).sum()) / spread if spread > 0 else float("nan"), share, ""
        ),
        bias=_around(float(learned.mean()), weight @ learned / total, how.unit),
    )


def _around(value: float, resampled: Floats, unit: str) -> Interval:
    """Return a value with the 5 % and 95 % points of its resampled values."""
    if not resampled.size:
        return Interval(value, value, value, unit)
    low, high = np.quantile(resampled, [0.05, 0.95])
    return Interval(value, min(float(low), value), max(float(high), value), unit)


def _resampled(players: Sequence[str]) -> Floats:
    """Return how often each session counts in each resample, whole players at a time."""
    names = np.array(players)
    known, place = np.unique(names, return_inverse=True)
    rng = np.random.default_rng(1)
    groups = place if known.size >= FEWEST_PLAYERS else np.arange(names.size)
    count = int(groups.max()) + 1
    drawn = rng.multinomial(count, np.full(count, 1 / count), size=RESAMPLED)
    return drawn[:, groups].astype(np.float64)


def _headline(misses: Sequence[Miss], system: System) -> str:
    carry = _of(misses, "carry_m")
    if carry is not None:
        return f"Carry is predicted to within about {_value(carry.learned.median, carry, system)}."
    if misses:
        return f"{start_of_sentence(label_of(misses[0].trait))} is predicted; carry was not read."
    return "The physics was adapted to this squad's balls."


def _lead(misses: Sequence[Miss], system: System) -> str:
    carry = _of(misses, "carry_m")
    if carry is None:
        return "Predictions from the club alone are laid beside what was read, session by session."
    low, high = (_value(v, carry, system) for v in (carry.learned.low90, carry.learned.high90))
    before = _value(carry.published.median, carry, system)
    share = f"{carry.explained.median * 100:.0f} %"
    return (
        f"That is the typical miss of a session's average, predicted from the club alone "
        f"(90 % sure between {low} and {high}; {before} by the published physics). "
        f"{share} of the differences between sessions are explained."
    )


def _remarks(misses: Sequence[Miss], fit: Fit, system: System) -> tuple[str, ...]:
    remarks = []
    for one in misses:
        if one.bias.low90 > 0 or one.bias.high90 < 0:
            way = "more" if one.bias.median > 0 else "less"
            remarks.append(
                f"{start_of_sentence(label_of(one.trait))} was read "
                f"{_value(abs(one.bias.median), one, system)} {way} than predicted on average: "
                "a reading that is off all the time, or something that the physics leaves out."
            )
    if misses and is_calibrated(fit):
        remarks.append(
            "The same sessions taught the constants, so new sessions will miss by somewhat more."
        )
    if misses:
        remarks.append(
            "Luck of few shots: what a session's average would differ by even if the physics "
            "were perfect. A typical miss close to it cannot get much better."
        )
    return tuple(remarks)


def _panel(trait: str, checks: Sequence[BallCheck], system: System) -> Agreement:
    how = trait_display(trait, system)
    return Agreement(
        label=label_of(trait),
        unit=how.unit,
        predicted=np.array([c.predicted for c in checks]) * how.factor,
        observed=np.array([c.observed for c in checks]) * how.factor,
        standard_error=np.array([c.standard_error for c in checks]) * how.factor,
        names=tuple(f"{c.player}, {c.start:%d %b %Y}" for c in checks),
    )


def _miss_row(one: Miss, system: System) -> tuple[str, ...]:
    share = one.explained
    return (
        start_of_sentence(label_of(one.trait)),
        f"{one.sessions} ({counted(one.players, 'player')})",
        _range(one.learned, one, system),
        _range(one.published, one, system),
        _value(one.luck, one, system),
        (
            f"{_percent(share.median)} ({_percent(share.low90, bare=True)} to "
            f"{_percent(share.high90, bare=True)})"
            if np.isfinite(share.median)
            else "one session only"
        ),
    )


def _percent(share: float, *, bare: bool = False) -> str:
    return plain_zero(f"{share * 100:.0f}") + ("" if bare else " %")


def _in_words(one: Miss, system: System) -> str:
    return (
        f"{label_of(one.trait)}: {counted(one.sessions, 'session')}, typical miss "
        f"{_value(one.learned.median, one, system)}"
    )


def _value(shown: float, one: Miss, system: System) -> str:
    """Return a number already in the shown unit with that unit, finer where it is small."""
    how = trait_display(one.trait, system)
    decimals = how.decimals
    if one.trait == "carry_m":
        decimals = distance_display(system, shown / how.factor).decimals
    separator = "" if how.unit == "°" else " "
    return f"{plain_zero(f'{shown:.{decimals}f}')}{separator}{how.unit}"


def _range(interval: Interval, one: Miss, system: System) -> str:
    low, high = (
        _value(v, one, system).removesuffix(interval.unit).rstrip()
        for v in (interval.low90, interval.high90)
    )
    return f"{_value(interval.median, one, system)} ({low} to {high})"


def _of(misses: Sequence[Miss], trait: str) -> Miss | None:
    return next((m for m in misses if m.trait == trait), None)


def published_moments() -> Mapping[str, tuple[float, float]]:
    """Return mean and SD of every constant's published prior."""
    names, mean, covariance = prior_moments()
    moments = dict(zip(names, zip(mean, np.sqrt(np.diag(covariance)), strict=True), strict=True))
    moments["cg_height_m"] = (0.0, CG_HEIGHT_SD_M)
    moments["loft_follows_attack"] = (KAPPA_MEAN, KAPPA_SD)
    moments |= {name: (1.0, sd) for name, sd in FACTOR_SD.items()}
    return {name: (float(m), float(sd)) for name, (m, sd) in moments.items()}


def _constants(fit: Fit) -> dict[str, tuple[str, ...]]:
    """Return a row for every learned constant, players' own values averaged and their range."""
    if not is_calibrated(fit):
        return {}
    by_player = [physics_draws(fit, p.name) for p in fit.players]
    published = published_moments()
    rows: dict[str, tuple[str, ...]] = {}
    for name, (words, unit, factor, decimals) in CONSTANT_WORDS.items():
        if name not in by_player[0]:
            continue
        draws = np.stack([constants[name] for constants in by_player], axis=1) * factor
        middle = draws.mean(axis=1)
        low, median, high = np.quantile(middle, [0.05, 0.5, 0.95])
        learned = _constant(float(median), float(low), float(high), unit, decimals)
        if np.any(draws != draws[:, :1]):
            own = np.median(draws, axis=0)
            ends = (plain_zero(f"{v:.{decimals}f}") for v in (own.min(), own.max()))
            learned += f"; by player {' to '.join(ends)}"
        mean, sd = (v * factor for v in published[name])
        before = _constant(mean, mean - Z90 * sd, mean + Z90 * sd, unit, decimals)
        rows[name] = (words, learned, before, _told(float(middle.std()) / sd))
    return rows


def _constant(median: float, low: float, high: float, unit: str, decimals: int) -> str:
    middle, start, end = (plain_zero(f"{v:.{decimals}f}") for v in (median, low, high))
    separator = "" if unit in ("°", "") else " "
    return f"{middle}{separator}{unit} ({start} to {end})"


def _told(share_left: float) -> str:
    """Return in words how much narrower a constant is known than before."""
    if share_left > 0.9:
        return "next to nothing"
    if share_left > 0.6:
        return "a little"
    if share_left > 0.3:
        return "much"
    return "nearly everything"


def level_doubt_m(fit: Fit) -> float:
    """Return how far a carry may be off by the constants alone, 90 % sure, m: median of players."""
    draws, shots, players = LOOKED_AT
    clouds = (player_cloud(fit, p.name, draws=draws, shots=shots) for p in fit.players[:players])
    spreads = [averaged(cloud, draws, shots).carry().std() for cloud in clouds]
    return Z90 * float(np.median(spreads))


def _without_balls(fit: Fit, system: System, ball_shots: int) -> PhysicsView:
    level = distance(level_doubt_m(fit), system)
    headline = "No ball data: the published physics serves."
    if ball_shots:
        headline = (
            f"{counted(ball_shots, 'shot')} with ball data stored, not used by this fit: the "
            "published physics serves."
        )
    return _bare(
        headline,
        f"The level of carry is uncertain by about {level} either way (90 % sure); gains, being "
        "differences, much less.",
        (),
        (
            "Record **ball speed, launch angle and spin** of the same shots whose club delivery "
            "and strike are read: a few shots a session, in several sessions.",
            "Record **carry** where a ball can be seen to land or is tracked; note temperature "
            "and altitude of the day beside it.",
            "Keep **the same head and ball** through a session, or name the ball in the log: "
            "another ball flies by other constants.",
            "Then press **Fit again**: the constants adapt to your squad, and this page shows how "
            "well.",
        ),
    )


def _bare(
    headline: str, lead: str, problems: tuple[str, ...], wanted: tuple[str, ...] = ()
) -> PhysicsView:
    return PhysicsView(
        headline=headline,
        lead=lead,
        problems=problems,
        panels=(),
        picture_text="",
        misses=(),
        remarks=(),
        constants=(),
        flight=(),
        wanted=wanted,
    )
