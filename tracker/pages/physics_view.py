"""What the physics page says: how far predictions miss, and what the squad's balls taught."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tracker.charts.agreement import Agreement
from tracker.decisions.checks.misses import Miss, miss
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.level_doubt import level_doubt_m
from tracker.interval import Interval, sure_between
from tracker.pages.constants_view import constant_rows
from tracker.pages.shared.phrases import Rows, counted, distance
from tracker.pages.shared.phrases import trait_label as label_of
from tracker.posterior import BallCheck, Fit
from tracker.units import Display, System, brief_text, plain_zero, trait_display, value_text
from tracker.words import start_of_sentence

MISS_COLUMNS = (
    "Quantity", "Sessions", "Typical miss, learned physics", "Typical miss, published physics",
    "Of it luck of few shots", "Explained", "Explained within a player",
)  # fmt: skip

ORDER = ("ball_speed_mps", "launch_deg", "spin_rpm", "carry_m")


@dataclass(frozen=True, eq=False, slots=True)
class PhysicsView:
    """Everything the physics page shows."""

    headline: str
    lead: str
    problems: tuple[str, ...]
    panels: tuple[Agreement, ...]
    panel_texts: tuple[str, ...]
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
    problems = fit.problems_of(*DISTANCE_PARTS)
    if problems:
        return _bare("No answer from this fit.", "Fit again.", problems)
    checks = fit.ball_checks
    if not checks and not fit.is_calibrated:
        return _without_balls(fit, system, ball_shots)
    by_trait = {t: [c for c in checks if c.trait == t] for t in ORDER}
    by_trait = {t: found for t, found in by_trait.items() if found}
    misses = [miss(found, trait_display(t, system)) for t, found in by_trait.items()]
    constants, flight = constant_rows(fit, system)
    return PhysicsView(
        headline=_headline(misses, system),
        lead=_lead(misses, system),
        problems=(),
        panels=tuple(_panel(t, found, system) for t, found in by_trait.items()),
        panel_texts=tuple(_in_words(m, system) for m in misses),
        misses=tuple(_miss_row(m, system) for m in misses),
        remarks=_remarks(misses, fit, system),
        constants=constants,
        flight=flight,
        wanted=(),
    )


def _headline(misses: Sequence[Miss], system: System) -> str:
    carry = _of(misses, "carry_m")
    if carry is not None:
        return f"Carry is predicted to within about {_sure(carry.learned, carry, system)}."
    if misses:
        return f"{start_of_sentence(label_of(misses[0].trait))} is predicted; carry was not read."
    return "The physics was adapted to this squad's balls."


def _lead(misses: Sequence[Miss], system: System) -> str:
    carry = _of(misses, "carry_m")
    if carry is None:
        return "Predictions from the club alone are laid beside what was read, session by session."
    before = _sure(carry.published, carry, system)
    own = carry.own.median
    said = (
        f"Of the differences between a player's own sessions {_share_text(carry.own)} are "
        "explained, 90 % sure in brackets."
        if np.isfinite(own)
        else ""
    )
    return (
        f"That is the typical miss of a session's average, predicted from the club alone; by the "
        f"published physics it is {before}. "
        f"{said}"
    ).strip()


def _remarks(misses: Sequence[Miss], fit: Fit, system: System) -> tuple[str, ...]:
    remarks = []
    for one in misses:
        if one.bias.low90 > 0 or one.bias.high90 < 0:
            way = "more" if one.bias.median > 0 else "less"
            size = one.bias if one.bias.median > 0 else one.bias.scaled(-1, one.bias.unit)
            remarks.append(
                f"{start_of_sentence(label_of(one.trait))} was read "
                f"{_sure(size, one, system)} {way} than predicted on average: "
                "a reading that is off all the time, or something that the physics leaves out."
            )
    if misses and fit.is_calibrated:
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
    how = _how(one, system)
    return (
        start_of_sentence(label_of(one.trait)),
        str(one.sessions),
        brief_text(one.learned, how),
        brief_text(one.published, how),
        brief_text(one.luck, how),
        _share_text(one.explained),
        _share_text(one.own),
    )


def _share_text(share: Interval) -> str:
    if not np.isfinite(share.median):
        return "too few sessions"
    low, middle, high = (
        "over 99" if v > 0.995 else "under 0" if v < -0.005 else plain_zero(f"{v * 100:.0f}")
        for v in (share.low90, share.median, share.high90)
    )
    if low == middle == high:
        return f"{middle} %"
    return f"{middle} % ({low} to {high})"


def _in_words(one: Miss, system: System) -> str:
    return (
        f"{start_of_sentence(label_of(one.trait))}, read against predicted: "
        f"{counted(one.sessions, 'session')} of {counted(one.players, 'player')}, typical miss "
        f"{value_text(one.learned.median, _how(one, system))}."
    )


def _how(one: Miss, system: System) -> Display:
    """Return how a miss is shown, which is in the shown unit already: finer for carry."""
    how = replace(trait_display(one.trait, system), factor=1.0)
    return replace(how, decimals=1) if one.trait == "carry_m" else how


def _sure(interval: Interval, one: Miss, system: System) -> str:
    middle, low, high = (
        value_text(v, _how(one, system)) for v in (interval.median, interval.low90, interval.high90)
    )
    return f"{middle} ({sure_between(low, high)})"


def _of(misses: Sequence[Miss], trait: str) -> Miss | None:
    return next((m for m in misses if m.trait == trait), None)


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
            "Record ball speed, launch angle and spin of the same shots whose club delivery "
            "and strike are read: a few shots a session, in several sessions.",
            "Record carry where a ball can be seen to land or is tracked; note temperature "
            "and altitude of the day beside it.",
            "Keep the same head and ball through a session, or name the ball in the log: "
            "another ball flies by other constants.",
            "Then press Fit again: the constants adapt to your squad, and this page shows how "
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
        panel_texts=(),
        misses=(),
        remarks=(),
        constants=(),
        flight=(),
        wanted=wanted,
    )
