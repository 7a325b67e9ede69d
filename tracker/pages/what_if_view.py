"""What the section 'What if' asks and says: sliders in the reader's units, the answer in words."""

from collections.abc import Mapping
from dataclasses import dataclass

from tracker.decisions.distance.what_if import Aim, WhatIf, WhatIfAnswer
from tracker.pages.shared.phrases import (
    Rows,
    amount_brief,
    distance_brief,
    trait_label,
    window_text,
)
from tracker.units import FOOT_M, System, display
from tracker.words import start_of_sentence

EFFECT_COLUMNS = ("What", "Changes by")
AIM_COLUMNS = ("Best window of", "Now", "Then")
NOTHING_ASKED = WhatIf()
ORDINARY_C = 20.0
"""Temperature of the day on which every gain is worked out."""


@dataclass(frozen=True, slots=True)
class Slider:
    """One thing that may be changed: its name, ends, step and resting place in the shown unit."""

    field: str
    label: str
    low: float
    high: float
    step: float
    rest: float = 0.0
    factor: float = 1.0
    """Shown units to one stored unit."""
    offset: float = 0.0
    """What is shown where the stored change is nothing."""

    def stored(self, shown: float) -> float:
        """Return the stored change for a shown place; none at rest."""
        return 0.0 if shown == self.rest else (shown - self.offset) / self.factor

    def shown(self, stored: float) -> float:
        """Return the place that shows a stored change, the nearest end for one past the ends.

        It lies between two steps where the change was asked for in other units.
        """
        place = round(self.offset + stored * self.factor, 6)
        return min(max(place, self.low), self.high)


@dataclass(frozen=True, slots=True)
class WhatIfView:
    """Everything the section shows of one answer."""

    sentence: str
    effects: Rows
    aims: Rows
    shift: str
    notes: tuple[str, ...]


def sliders(system: System) -> tuple[Slider, ...]:
    """Return what may be changed, in the reader's units."""
    speed = display("speed", system)
    most = 8.0 if system == "yards" else 13.0
    if system == "yards":
        height = Slider("altitude_m", "Altitude (ft)", 0.0, 8000.0, 500.0, factor=1 / FOOT_M)
        warmth = Slider(
            "temperature_c", "Temperature (°F)", 32.0, 104.0, 4.0,
            rest=68.0, factor=1.8, offset=1.8 * ORDINARY_C + 32,
        )  # fmt: skip
    else:
        height = Slider("altitude_m", "Altitude (m)", 0.0, 2500.0, 100.0)
        warmth = Slider(
            "temperature_c", "Temperature (°C)", 0.0, 40.0, 2.0, rest=20.0, offset=ORDINARY_C
        )
    return (
        Slider("loft_deg", "Loft of the head (°, + more)", -4.0, 4.0, 0.5),
        Slider("cg_height_mm", "Weight in the head (mm, + higher)", -5.0, 5.0, 0.5),
        Slider("tee_height_mm", "Tee height (mm, + higher)", -15.0, 15.0, 1.0),
        Slider(
            "club_speed_mps", f"Club speed ({speed.unit}, + faster)", -most, most, 1.0,
            factor=speed.factor,
        ),
        height,
        warmth,
    )  # fmt: skip


def change_of(places: Mapping[str, float], system: System, stood: WhatIf = NOTHING_ASKED) -> WhatIf:
    """Return the change that sliders at some shown places ask for.

    A slider that shows what ``stood`` before asks for just that, whatever units it was asked in.
    """
    asked = {}
    for slider in sliders(system):
        before = float(getattr(stood, slider.field))
        place = places.get(slider.field, slider.shown(before))
        asked[slider.field] = before if place == slider.shown(before) else slider.stored(place)
    return WhatIf(**asked)


def what_if_view(found: WhatIfAnswer, system: System) -> WhatIfView:
    """Return what to show of an answer."""
    return WhatIfView(
        sentence=found.sentence,
        effects=(
            ("Carry", distance_brief(found.carry_m, system, signed=True)),
            ("Carry and run", distance_brief(found.total_m, system, signed=True)),
            ("Ball speed", amount_brief("ball_speed_mps", found.ball_speed_mps, system)),
            ("Launch angle", amount_brief("launch_deg", found.launch_deg, system)),
            ("Spin", amount_brief("spin_rpm", found.spin_rpm, system)),
        ),
        aims=tuple(
            (
                start_of_sentence(trait_label(aim.trait)),
                window_text(aim.trait, aim.before.window, system),
                window_text(aim.trait, aim.after.window, system),
            )
            for aim in found.aims
        ),
        shift=" ".join(_shift(aim, system) for aim in found.aims),
        notes=found.notes,
    )


def _shift(aim: Aim, system: System) -> str:
    before = window_text(aim.trait, aim.before.window, system)
    after = window_text(aim.trait, aim.after.window, system)
    name = trait_label(aim.trait)
    if before == after:
        return f"The best window of {name} stays at {before}."
    return f"The best window of {name} moves to {after} (now {before})."
