"""What the squad's balls taught: each constant in plain words, beside what was known before."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from models.calibration.data import CONSTANTS, calibration_prior
from models.drive.impact import Delivery
from models.drive.impact_facts import impact_facts
from models.drive.parameters import KAPPA_MEAN, KAPPA_SD, SHAPE_NAMES, draw_parameters
from models.traits import DELIVERY
from tracker.fits.calibrating import squad_delivery
from tracker.interval import Z90
from tracker.posterior import Fit
from tracker.units import System, display, plain_zero

Row = tuple[str, ...]

CONSTANT_COLUMNS = ("What", "Learned here", "Published", "How much the balls told")

CONSTANT_WORDS: Mapping[str, tuple[str, str, float, int]] = MappingProxyType(
    {
        "restitution": ("How lively the face is (restitution)", "", 1.0, 3),
        "loft_follows_attack": ("Loft that comes with one degree of attack", "°", 1.0, 2),
        "drag_factor": ("Drag of the balls against the published ball", "times", 1.0, 3),
        "lift_factor": ("Lift of the balls against the published ball", "times", 1.0, 3),
        "drag_constant": ("Drag without spin", "", 1.0, 3),
        "drag_spin": ("Drag that spin adds", "", 1.0, 3),
        "drag_spin_squared": ("Drag that high spin adds", "", 1.0, 2),
        "drag_reynolds": ("Drag that falls away with speed", "", 1.0, 3),
        "lift_scale": ("Lift that spin gives", "", 1.0, 3),
        "lift_exponent": ("How lift grows with spin (power)", "", 1.0, 3),
    }
)
"""A constant in plain words, its shown unit, factor and decimals. Those of the impact that only
tell together are shown as ``FACT_WORDS``."""

SPEED = "m/s"
"""Unit of a speed as stored, which a reader sees in the units chosen."""
FACT_WORDS: Mapping[str, tuple[str, str, int]] = MappingProxyType(
    {
        "spin_rpm": ("Spin at the squad's mean delivery", "rpm", 0),
        "spin_by_height_rpm_per_mm": ("Spin with each mm struck higher", "rpm per mm", 0),
        "spin_by_loft_rpm_per_deg": (
            "Spin with each degree of loft over attack", "rpm per degree", 0
        ),
        "ball_over_club_speed": ("Ball speed over club speed", "times", 3),
        "lost_toe_mps": ("Ball speed lost 10 mm toward the toe", SPEED, 2),
        "lost_heel_mps": ("Ball speed lost 10 mm toward the heel", SPEED, 2),
        "lost_low_mps": ("Ball speed lost 10 mm low", SPEED, 2),
    }
)  # fmt: skip
"""What is known of the impact as a whole, in plain words, its unit and decimals."""

PUBLISHED_DRAWS = 2000


def constant_rows(fit: Fit, system: System) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
    """Return the rows of what was learned, and apart those of the flight's own six numbers."""
    rows = _constants(fit)
    return (
        (*_facts(fit, system), *(row for name, row in rows.items() if name not in SHAPE_NAMES)),
        tuple(row for name, row in rows.items() if name in SHAPE_NAMES),
    )


def published_moments() -> Mapping[str, tuple[float, float]]:
    """Return mean and SD of every constant before any ball of the squad was seen."""
    mean, covariance = calibration_prior()
    sd = np.sqrt(np.diag(covariance))
    moments = {name: (float(mean[i]), float(sd[i])) for i, name in enumerate(CONSTANTS)}
    return {**moments, "loft_follows_attack": (KAPPA_MEAN, KAPPA_SD)}


def _facts(fit: Fit, system: System) -> tuple[Row, ...]:
    """Return a row for what the balls tell of the impact, beside the prior at that delivery."""
    learned = fit.impact_facts
    if not learned:
        return ()
    drawn = draw_parameters(PUBLISHED_DRAWS, np.random.default_rng(1))
    delivery = Delivery(**dict(zip(DELIVERY, squad_delivery(fit).tolist(), strict=True)))
    before = impact_facts(delivery, drawn)
    rows = []
    speed = display("speed", system)
    for name, (words, unit, decimals) in FACT_WORDS.items():
        factor, unit = (speed.factor, speed.unit) if unit == SPEED else (1.0, unit)
        cells = []
        for draws in (learned[name], before[name]):
            low, median, high = np.quantile(draws * factor, [0.05, 0.5, 0.95])
            cells.append(_constant(float(median), float(low), float(high), unit, decimals))
        told = _told(float(learned[name].std() / before[name].std()))
        rows.append((words, *cells, told))
    return tuple(rows)


def _constants(fit: Fit) -> dict[str, Row]:
    """Return a row for every learned constant, players' own values averaged and their range."""
    if not fit.is_calibrated:
        return {}
    by_player = [fit.physics_of(p.name) for p in fit.players]
    published = published_moments()
    rows: dict[str, Row] = {}
    for name, (words, unit, factor, decimals) in CONSTANT_WORDS.items():
        if name not in by_player[0] or name not in published:
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
