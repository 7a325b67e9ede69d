"""What is promised of a change on the day it is logged: its lever's posterior predictive.

A name that the fit knows is that drill; any other is a new drill for its trait. The numbers are
those of the coach's list of levers. Nothing is promised afterwards: a fit that has seen the player
since the start of the change could only tell what happened.
"""

from models.traits import TARGETED, TRAITS
from tracker.decisions.distance.cloud import DISTANCE_PARTS, player_cloud, spaced
from tracker.decisions.distance.lever_inputs import LeverInputs, lever_inputs
from tracker.decisions.distance.levers import LeverEffect, moved_by, new_drill, trait_effects
from tracker.decisions.distance.target import find_target, target_draws
from tracker.decisions.distance.worth import Standing
from tracker.decisions.distance.yardstick import CARRY, TOWARD
from tracker.errors import NoPromise
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.records import Change


def promise_of(
    fit: Fit, change: Change, *, seed: int = 1, draws: int = 400, shots: int = 32
) -> Promise:
    """Return what the fit promises of a change; raise NoPromise with why it promises nothing."""
    trait = _trait_to_promise(fit, change)
    cloud = player_cloud(fit, change.player, seed=seed, draws=draws, shots=shots)
    target, level = find_target(cloud, trait, TOWARD), cloud.level_of(trait)
    inputs, kept = lever_inputs(fit, change.player), spaced(fit.samples, draws)
    effect = _lever_of(change, inputs, trait_effects(inputs, change.player, target, level, kept))
    move = moved_by(effect.effect, level, target_draws(cloud, target))
    moved = cloud.moved(trait, level + move)
    toward = Standing.of(cloud, TOWARD).gain(moved)
    carry = Standing.of(cloud, CARRY).gain(moved)
    return Promise(
        change=change,
        lever=effect.lever.name,
        move=Interval.from_draws(move, TRAITS[trait].unit),
        target=target.best,
        gains={
            "toward": Interval.from_draws(toward.value, "m"),
            "carry": Interval.from_draws(carry.value, "m"),
            "inside": Interval.from_draws(toward.inside, "points"),
        },
        mean_gain_m=float(toward.value.mean()),
        effort_sessions=change.effort_sessions or effect.effort_sessions,
        fit_id=fit.info.fit_id,
    )


def _trait_to_promise(fit: Fit, change: Change) -> str:
    """Return the trait of a change, or say why nothing can be promised of it."""
    player, trait = change.player, change.trait
    if trait is None:
        raise NoPromise("it aims at no one trait")
    label = TRAITS[trait].label
    if trait not in TARGETED:
        raise NoPromise(f"no lever for {label} is known")
    if not fit.knows(player):
        raise NoPromise(f"the last fit does not know {player} yet; fit before the next change")
    if fit.problems_of(trait, *DISTANCE_PARTS):
        raise NoPromise("the last fit did not pass its checks")
    if not fit.of(player, trait).is_read:
        raise NoPromise(f"the last fit has no reading of {player}'s {label}")
    if any(start.date() > change.start for start in fit.sessions(player)):
        raise NoPromise(f"the last fit has seen {player} after {change.start} already")
    return trait


def _lever_of(change: Change, inputs: LeverInputs, effects: tuple[LeverEffect, ...]) -> LeverEffect:
    """Return the lever that a change is: by its name, or a new drill for its trait."""
    by_name = {one.lever.name: one for one in effects}
    in_place = {
        one.name for one in inputs.logged if one.trait == change.trait and one.own is not None
    }
    if change.name in in_place and change.name not in by_name:
        raise NoPromise(f"{change.player} has it already, as far as the last fit knows")
    return by_name.get(change.name, by_name[new_drill(str(change.trait)).name])
