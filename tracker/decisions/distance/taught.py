"""How far another trait came along when a player's attack was changed on purpose, by the readings.

The session means around the start of a logged change of attack, from the player's change before to
the one after, are
    mean_s = before + step [s >= start] + random walk + day and reading errors,
a method's bias and the steps that nobody logged at another time taken out. ``step`` is estimated by
generalised least squares, x is what the change did to attack, and
    step ~ slope x,   so that step and its error give the slope the weight x^2 / variance.
x is not known but estimated; its posterior mean stands for it (regression calibration: Carroll,
Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, ch. 4), and its error
adds to that of the step.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from models.arrays import Bools, Floats, Indices
from tracker.player_trait import WEEK, PlayerTrait
from tracker.posterior import Fit

ATTACK = "attack_deg"


@dataclass(frozen=True, slots=True)
class Taught:
    """What a player's changes of attack say of the slope of a trait on attack."""

    slope: float
    """Units of the trait a degree; 0 where nothing was seen."""
    weight: float
    """1 / variance of the slope; 0 where nothing was seen."""


def taught_slope(fit: Fit, player: str, trait: str) -> Taught:
    """Return what a player's own changes of attack say of the slope of a trait on attack."""
    attack, along = fit.of(player, ATTACK), fit.of(player, trait)
    weight = weighted = 0.0
    for place, change in enumerate(attack.changes):
        nearby = _alone(attack, along, change.start)
        after = along.times[nearby].astype("datetime64[D]") >= np.datetime64(change.start)
        if not after.any() or after.all():
            continue
        moved = attack.change_effect[place]
        x, error = float(moved.mean()), float(moved.var())
        step, variance = _step(along, nearby, after)
        variance += error  # as of a slope of one: steeper is not known of any
        weight += x**2 / variance
        weighted += x * step / variance
    return Taught(weighted / weight if weight else 0.0, weight)


def _alone(attack: PlayerTrait, along: PlayerTrait, start: date) -> Indices:
    """Return the read sessions around a day between the player's other changes of the two.

    None where another change began on that very day.
    """
    others = [c.start for c in (*attack.changes, *along.changes)]
    others.remove(start)
    if start in others:
        return np.array([], dtype=np.int64)
    days = along.times.astype("datetime64[D]")
    since = max((d for d in others if d < start), default=date.min)
    until = min((d for d in others if d > start), default=date.max)
    places = along.places_read
    inside = (days[places] >= np.datetime64(since)) & (days[places] < np.datetime64(until))
    return np.asarray(places[inside])


def _step(along: PlayerTrait, places: Indices, after: Bools) -> tuple[float, float]:
    """Return by how much the readings step between the sessions before and after, and its variance.

    ``places`` (session,) are in order of time, ``after`` says which come after.
    """
    counts = along.counts[:, places]
    readings = counts.sum(axis=0)
    bias = along.mean_bias(counts).mean(axis=0)
    means = along.raw_mean[places] - bias - _unlogged_elsewhere(along, places, after)
    weeks = (along.times[places] - along.times[places[0]]) / WEEK
    reading = (along.reading_sd**2) @ counts / readings
    shots = (float(np.mean(along.shot_sd**2)) + reading) / readings
    covariance = float(np.mean(along.drift**2)) * np.minimum(weeks[:, None], weeks)
    covariance += np.diag(float(np.mean(along.session_sd**2)) + shots)
    design = np.stack([np.ones(places.size), after.astype(np.float64)], axis=1)
    solved = np.linalg.solve(covariance, np.column_stack([design, means]))
    found = np.linalg.inv(design.T @ solved[:, :2])
    return float((found @ (design.T @ solved[:, 2]))[1]), float(found[1, 1])


def _unlogged_elsewhere(along: PlayerTrait, places: Indices, after: Bools) -> Floats:
    """Return the expected steps by each session that nobody logged and that are not this one."""
    at, size = along.jump_at.astype(np.int64), along.jump.astype(np.float64)
    here = (at > places[~after][-1]) & (at <= places[after][0])
    steps = np.where((at > 0) & ~here, size, 0.0)
    return np.array([np.where(at <= place, steps, 0.0).mean() for place in places])
