"""A player's posterior-predictive cloud of drives now, and where it carries once something moves.

In draw d the deliveries are level_d + L_d z_i, with L_d L_d' = shot covariance + diag(session SD^2)
and z_i evenly spread normals shared by all draws, levers and both sides of every difference.
"""

from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy.special import ndtri

from models.arrays import Floats, Indices
from models.drive.drive import Conditions, Drive, Landing, drive_cloud
from models.drive.impact import Delivery, delivered_loft
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, in_drive
from tracker.decisions.distance.player_physics import (
    path_follows_attack,
    player_physics,
    squad_path_follows_attack,
    squad_physics,
)
from tracker.errors import BadRequest
from tracker.fit_info import PHYSICS
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB

DISTANCE_PARTS: tuple[str, ...] = (*DELIVERY, PHYSICS)
"""The parts of a fit that an answer in carry rests on."""

TIGHTER = 0.8
"""Shot scatter that remains where a fifth of it is gone."""

STANDARD_DAY = Conditions()
"""Calm, 20 C, at sea level: where every gain is worked out unless it is asked otherwise."""

Following = Literal["none", "swing"]
"""What a moved attack angle takes along: nothing, or loft and path as this player moves."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Deliveries now: a level a draw and the same shots around it."""

    player: str
    as_of: datetime
    level: Floats
    """(draw, trait)."""
    scatter: Floats
    """Shots around the level, (draw, shot, trait)."""
    covariance: Floats
    """Of one shot within a session, (draw, trait, trait)."""
    session_sd: Floats
    """How far days differ, (draw, trait)."""
    normals: Floats
    """The shots before they are scaled, (shot, trait)."""
    squad_mean: Floats
    """Where the squad's players stand on average, (draw, trait)."""
    squad_spread: Floats
    """How far they differ (SD), (draw, trait)."""
    path_follows_attack: Floats
    """Degrees of path a degree of attack, (draw,)."""
    physics: DriveParameters
    """One joint set of parameters a draw."""
    conditions: Conditions = STANDARD_DAY

    @property
    def draws(self) -> int:
        """Return the number of posterior draws."""
        return int(self.level.shape[0])

    def level_of(self, trait: str) -> Floats:
        """Return the draws of one trait's level now."""
        return self.level[:, DELIVERY.index(trait)]

    def moved(self, trait: str, to: Floats | float, following: Following = "swing") -> "Cloud":
        """Return the cloud with one trait's level elsewhere, spread kept."""
        return replace(self, level=self.level_at(trait, to, following))

    def level_at(self, trait: str, to: Floats | float, following: Following = "swing") -> Floats:
        """Return the levels with one trait elsewhere.

        With ``swing`` a moved attack angle takes delivered loft and path along as far as is learned
        of this player (``taken_along``).
        """
        k, how = DELIVERY.index(trait), in_drive(trait)
        level = self.level.copy()
        level[:, k] = to
        if following == "none":
            return level
        if how.drags:
            j = DELIVERY.index(how.drags)
            level[:, j] = delivered_loft(
                self.level[:, j], self.level[:, k], level[:, k], self.physics.loft_follows_attack
            )
        if how.turns:
            turned = self.path_follows_attack * (level[:, k] - self.level[:, k])
            level[:, DELIVERY.index(how.turns)] += turned
        return level

    def tightened(self, *traits: str) -> "Cloud":
        """Return the cloud with a fifth less shot scatter of some traits, of all unless named."""
        share = np.array([TIGHTER if t in (traits or DELIVERY) else 1.0 for t in DELIVERY])
        shot = self.covariance * share * share[:, None]
        return replace(self, scatter=scatter_of(shot, self.session_sd, self.normals))

    def part(self, draws: int, shots: int) -> "Cloud":
        """Return some of the draws and shots: enough for what is not the headline."""
        kept = spaced(self.draws, draws)
        return replace(
            self.taken(kept), scatter=self.scatter[kept, :shots], normals=self.normals[:shots]
        )

    def taken(self, kept: Indices) -> "Cloud":
        """Return the cloud's draws at some places, which may repeat."""
        return replace(
            self,
            level=self.level[kept],
            scatter=self.scatter[kept],
            covariance=self.covariance[kept],
            session_sd=self.session_sd[kept],
            squad_mean=self.squad_mean[kept],
            squad_spread=self.squad_spread[kept],
            path_follows_attack=self.path_follows_attack[kept],
            physics=self.physics.take(kept),
        )

    def carry(self) -> Floats:
        """Return the expected carry over the shots, one a draw, in m."""
        return expected_carry_of(self.level[:, None] + self.scatter, self.physics, self.conditions)

    def landings(self) -> Landing:
        """Return where every drive lands, shape (draw, shot)."""
        deliveries = _delivery(self.level[:, None] + self.scatter)
        return drive_cloud(deliveries, self.physics.as_column(), self.conditions, run=False)

    def drives(self) -> Drive:
        """Return every drive, shape (draw, shot).

        The run takes longer to work out than everything else of a drive.
        """
        deliveries = _delivery(self.level[:, None] + self.scatter)
        return drive_cloud(deliveries, self.physics.as_column(), self.conditions)


def expected_carry_of(
    deliveries: Floats, physics: DriveParameters, conditions: Conditions = STANDARD_DAY
) -> Floats:
    """Return the mean carry over shots of deliveries (draw, shot, trait), one a draw, in m."""
    landed = drive_cloud(_delivery(deliveries), physics.as_column(), conditions, run=False)
    return np.asarray(landed.carry_m.mean(axis=1), dtype=np.float64)


def player_cloud(
    fit: Fit,
    player: str,
    *,
    seed: int = 1,
    draws: int = 400,
    shots: int = 32,
    physics: DriveParameters | None = None,
) -> Cloud:
    """Return a player's cloud at the last session, from ``draws`` evenly spaced posterior draws.

    ``physics`` (one set, or one a draw) takes the place of the player's own. Raises BadRequest
    for a fit of another club than the driver, whose flight the physics does not know.
    """
    _driver_only(fit)
    kept = spaced(fit.samples, draws)
    if physics is not None and physics.shape not in ((), kept.shape):
        raise ValueError(f"physics has shape {physics.shape}, the cloud {kept.shape}")
    return _cloud(
        fit,
        player,
        kept,
        level=np.stack([fit.of(player, t).now[kept] for t in DELIVERY], axis=1),
        shot=fit.shot_covariance(player, DELIVERY)[kept],
        physics=physics or player_physics(fit, player, kept, seed),
        path_slope=path_follows_attack(fit, player, kept, seed),
        normals=shot_normals(shots, seed),
    )


def average_cloud(fit: Fit, *, seed: int = 1, draws: int = 200, shots: int = 24) -> Cloud:
    """Return the cloud of an average player: the squad's mean levels, scatter and heads."""
    _driver_only(fit)
    kept = spaced(fit.samples, draws)
    names = [p.name for p in fit.players]
    shot = np.mean([fit.shot_covariance(p, DELIVERY)[kept] for p in names], axis=0)
    return _cloud(
        fit,
        names[0],
        kept,
        level=np.stack([fit.squad(t).mu[kept] for t in DELIVERY], axis=1),
        shot=shot,
        physics=squad_physics(fit, kept, seed),
        path_slope=squad_path_follows_attack(fit, kept, seed),
        normals=shot_normals(shots, seed),
    )


def _driver_only(fit: Fit) -> None:
    if fit.info.club != DEFAULT_CLUB:
        raise BadRequest(
            f"distance is worked for the {DEFAULT_CLUB} alone and this fit is of the "
            f"{fit.info.club}: ask for show, verdict, squad or retest --change instead"
        )


def _cloud(
    fit: Fit,
    player: str,
    kept: Indices,
    *,
    level: Floats,
    shot: Floats,
    physics: DriveParameters,
    path_slope: Floats,
    normals: Floats,
) -> Cloud:
    traits = [fit.squad(t) for t in DELIVERY]
    session = np.stack([one.session_sd[kept] for one in traits], axis=1)
    return Cloud(
        player=player,
        as_of=fit.sessions(player)[-1],
        level=level,
        scatter=scatter_of(shot, session, normals),
        covariance=shot,
        session_sd=session,
        normals=normals,
        squad_mean=np.stack([one.mu[kept] for one in traits], axis=1),
        squad_spread=np.stack([one.spread[kept] for one in traits], axis=1),
        path_follows_attack=path_slope,
        physics=physics,
    )


def averaged(cloud: Cloud, draws: int, shots: int) -> Cloud:
    """Return a part of a cloud with every level at its posterior mean.

    What is left varies by physics and scatter, so that a mean over draws averages those two.
    """
    part = cloud.part(draws, shots)
    level = np.broadcast_to(cloud.level.mean(axis=0), part.level.shape)
    return replace(part, level=level.copy())


@lru_cache(maxsize=16)
def shot_normals(shots: int, seed: int) -> Floats:
    """Return evenly spread standard normals in opposite pairs, shape ``(shot, trait)``.

    A shifted Kronecker sequence of the generalised golden ratio (Niederreiter 1992, Random Number
    Generation and Quasi-Monte Carlo Methods, ch. 3): even enough for means over shots, and without
    the second that loading a statistics library would cost every page.
    """
    traits = len(DELIVERY)
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (traits + 1))
    shift = np.random.default_rng([seed, shots]).random(traits)
    pairs = (shots + 1) // 2
    steps = np.outer(np.arange(1, pairs + 1), ratio ** -np.arange(1.0, traits + 1))
    half = np.asarray(ndtri((shift + steps) % 1.0), dtype=np.float64)
    half /= np.sqrt(np.mean(half**2, axis=0))  # the variance exactly, as the pairs give the mean
    normals = np.stack([half, -half], axis=1).reshape(2 * pairs, traits)[:shots]
    normals.setflags(write=False)
    return normals


def spaced(of: int, wanted: int) -> Indices:
    """Return the places of evenly spaced draws, all of them where fewer are held than wanted."""
    return np.linspace(0, of - 1, min(wanted, of)).round().astype(np.int64)


def scatter_of(shot: Floats, session_sd: Floats, normals: Floats) -> Floats:
    """Return shots around their level, (draw, shot, trait), from shot covariance and session SD."""
    covariance = shot.copy()
    diagonal = np.arange(len(DELIVERY))
    covariance[:, diagonal, diagonal] += session_sd**2
    factor = np.linalg.cholesky(covariance)
    return np.asarray(np.einsum("dkj,sj->dsk", factor, normals), dtype=np.float64)


def _delivery(deliveries: Floats) -> Delivery:
    return Delivery(**{name: deliveries[:, :, i] for i, name in enumerate(DELIVERY)})
