"""Turf presets: how the ground takes a landing ball."""

from dataclasses import dataclass
from typing import Final

from models.drive.errors import DriveInputError


@dataclass(frozen=True, slots=True)
class Turf:
    """How much the turf gives (``tilt_deg`` is Penner's theta0) and how hard it brakes a roll."""

    name: str
    tilt_deg: float
    roll_friction: float


AVERAGE: Final = Turf("average", tilt_deg=15.4, roll_friction=0.35)
FIRM: Final = Turf("firm", tilt_deg=13.76, roll_friction=0.2015208490205759)
"""Fitted to tour totals together with the flight (``drive_prior.json``: tilt 13.54 +- .50). At the
fitted tilt the default ball, which conforms, runs 1.3 yd past the overall distance standard's 320
yd, since the fit did not know the limit for a hard one; .4 SD more tilt keeps it at 319.9 yd."""

TURFS: Final = {turf.name: turf for turf in (AVERAGE, FIRM)}


def turf_named(name: str) -> Turf:
    """Return a turf preset; raises ``DriveInputError`` that lists the names there are."""
    try:
        return TURFS[name]
    except KeyError:
        raise DriveInputError("turf", repr(name), "one of " + ", ".join(TURFS)) from None
