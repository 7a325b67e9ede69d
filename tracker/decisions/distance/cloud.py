"""A player's posterior-predictive cloud of drives now, and where it carries once something moves.

In draw d the deliveries are level_d + L_d z_i, with L_d L_d' = shot covariance + diag(session SD^2)
and z_i evenly spread normals shared by all draws, fixes and both sides of every difference.
"""

from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from models.arrays import Floats
from models.drive.drive import Conditions, Drive, drive_cloud
from models.drive.impact import Delivery, delivered_loft
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, in_drive
from tracker.decisions.distance.player_physics import player_physics
from tracker.errors import BadRequest
from tracker.posterior import PHYSICS, Fit
from tracker.records import DEFAULT_CLUB

DISTANCE_PARTS: tuple[str, ...] = (*DELIVERY, PHYSICS)
"""The parts of a fit that an answer in carry rests on."""

TIGHTER = 0.8
"""Shot scatter that remains in the "tighter scatter" line."""

STANDARD_DAY = Conditions()
"""Calm, 20 C, at sea level: where every gain is worked out unless it is asked otherwise."""

Following = Literal["none", "loft", "all"]
"""Which traits follow a moved one: none, only loft behind attack, or all as the player moves."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Deliveries now: ``level`` (draw, trait) and ``scatter`` (draw, shot, trait) around it.

    ``tight_scatter`` is the same shots with 20 % less shot scatter and the same session SD;
    ``covariance`` (draw, trait, trait) is of one shot within a session; ``physics`` holds one joint
    set of parameters a draw.
    """

    player: str
    as_of: datetime
    level: Floats
    scatter: Floats
    tight_scatter: Floats
    covariance: Floats
    physics: DriveParameters
    conditions: Conditions = STANDARD_DAY

    @property
    def draws(self) -> int:
        """Return the number of posterior draws."""
        return int(self.level.shape[0])

    def level_of(self, trait: str) -> Floats:
        """Return the draws of one trait's level now."""
        return self.level[:, DELIVERY.index(trait)]

    def moved(self, trait: str, to: Floats | float, following: Following = "loft") -> "Cloud":
        """Return the cloud with one trait's level elsewhere, spread kept."""
        return replace(self, level=self.level_at(trait, to, following))

    def level_at(self, trait: str, to: Floats | float, following: Following = "loft") -> Floats:
        """Return the levels with one trait elsewhere.

        With ``loft`` a moved attack angle drags the delivered loft by the drawn kappa; with ``all``
        every other trait goes where the player's shots go when this trait does (conditional
        expectation by the shot covariance), save that loft follows attack by kappa there too.
        """
        k = DELIVERY.index(trait)
        step = to - self.level[:, k]
        level = self.level.copy()
        if following == "all":
            level += self.covariance[:, :, k] / self.covariance[:, k, k][:, None] * step[:, None]
        level[:, k] = to
        dragged = in_drive(trait).drags
        if following != "none" and dragged:
            j = DELIVERY.index(dragged)
            level[:, j] = delivered_loft(
                self.level[:, j], self.level[:, k], level[:, k], self.physics.loft_follows_attack
            )
        return level

    def tightened(self) -> "Cloud":
        """Return the cloud with 20 % less shot scatter."""
        return replace(self, scatter=self.tight_scatter)

    def part(self, draws: int, shots: int) -> "Cloud":
        """Return some of the draws and shots: enough for what is not the headline."""
        kept = spaced(self.draws, draws)
        return replace(
            self,
            level=self.level[kept],
            scatter=self.scatter[kept, :shots],
            tight_scatter=self.tight_scatter[kept, :shots],
            covariance=self.covariance[kept],
            physics=self.physics.take(kept),
        )

    def carry(self) -> Floats:
        """Return the expected carry over the shots, one a draw, in m."""
        return expected_carry_of(self.level[:, None] + self.scatter, self.physics, self.conditions)

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
    if fit.info.club != DEFAULT_CLUB:
        raise BadRequest(
            f"distance is worked for the {DEFAULT_CLUB} alone and this fit is of the "
            f"{fit.info.club}: ask for show, verdict, squad or retest --change instead"
        )
    kept = spaced(fit.samples, draws)
    if physics is not None and physics.shape not in ((), kept.shape):
        raise ValueError(f"physics has shape {physics.shape}, the cloud {kept.shape}")
    traits = [fit.of(player, t) for t in DELIVERY]
    session = np.stack([one.session_sd[kept] for one in traits], axis=1)
    shot = fit.shot_covariance(player, DELIVERY)[kept]
    normals = shot_normals(shots, seed)
    return Cloud(
        player=player,
        as_of=traits[0].starts[-1],
        level=np.stack([one.now[kept] for one in traits], axis=1),
        scatter=scatter_of(shot, session, normals),
        tight_scatter=scatter_of(shot * TIGHTER**2, session, normals),
        covariance=shot,
        physics=physics or player_physics(fit, player, kept, seed),
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


def spaced(of: int, wanted: int) -> NDArray[np.int64]:
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
