"""A player's posterior-predictive cloud of drives now, and where it carries once something moves.

In draw d the deliveries are level_d + L_d z_i, with L_d L_d' = shot covariance + diag(session SD^2)
and z_i evenly spread normals shared by all draws, fixes and both sides of every difference.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from models.drive import DELIVERY_RANGES, Conditions, drive_cloud
from models.drive_parameters import SHAPE_NAMES, DriveParameters, draw_parameters
from models.flight import flight_of_rows, launch_rows
from models.flight_table import flight_table
from models.heads import STANDARD
from models.impact import Delivery, delivered_loft, impact
from tracker.posterior import (
    Fit,
    Floats,
    level_draws,
    session_sd_draws,
    session_starts,
    shot_covariance_draws,
)

DELIVERY: tuple[str, ...] = (
    "strike_toe_mm",
    "strike_up_mm",
    "attack_deg",
    "club_speed_mps",
    "loft_deg",
    "path_deg",
    "face_deg",
)
"""The traits that decide a drive, in the order of the cloud's last axis."""

ATTACK, LOFT = DELIVERY.index("attack_deg"), DELIVERY.index("loft_deg")
TIGHTER = 0.8
"""Shot scatter that remains in the "tighter scatter" line."""

BLOCK_ROWS = 4096
"""Drives worked out at a time, so that what is in between stays in the processor's cache."""

LoftRule = Literal["follows", "held"]


@dataclass(frozen=True, eq=False)
class Cloud:
    """Deliveries now: ``level`` (draw, trait) and ``scatter`` (draw, shot, trait) around it.

    ``tight_scatter`` is the same shots with 20 % less shot scatter and the same session SD;
    ``physics`` holds one joint set of parameters a draw.
    """

    player: str
    as_of: datetime
    level: Floats
    scatter: Floats
    tight_scatter: Floats
    physics: DriveParameters

    @property
    def draws(self) -> int:
        """Return the number of posterior draws."""
        return int(self.level.shape[0])

    def level_of(self, trait: str) -> Floats:
        """Return the draws of one trait's level now."""
        return self.level[:, DELIVERY.index(trait)]

    def moved(self, trait: str, to: Floats | float, loft: LoftRule = "follows") -> "Cloud":
        """Return the cloud with one trait's level elsewhere, spread kept.

        A moved attack angle drags the delivered loft by the drawn kappa, unless loft is held.
        """
        return replace(self, level=self.level_at({trait: to}, loft))

    def level_at(self, to: Mapping[str, Floats | float], loft: LoftRule = "follows") -> Floats:
        """Return the levels with some traits elsewhere."""
        level = self.level.copy()
        for trait, value in to.items():
            level[:, DELIVERY.index(trait)] = value
        if loft == "follows" and "attack_deg" in to and "loft_deg" not in to:
            level[:, LOFT] = delivered_loft(
                self.level[:, LOFT],
                self.level[:, ATTACK],
                level[:, ATTACK],
                self.physics.loft_follows_attack,
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
            physics=self.physics.take(kept),
        )

    def carry(self) -> Floats:
        """Return the expected carry over the shots, one a draw, in m."""
        return expected_carry_of(self.level[:, None, :] + self.scatter, self.physics)

    def total(self) -> Floats:
        """Return the expected total (carry and run) over the shots, one a draw, in m.

        The run takes longer to work out than everything else of a drive.
        """
        deliveries = self.level[:, None, :] + self.scatter
        drives = drive_cloud(_delivery(deliveries), self.physics.as_column())
        return np.asarray(drives.total_m.mean(axis=1), dtype=np.float64)


def expected_carry_of(deliveries: Floats, physics: DriveParameters) -> Floats:
    """Return the mean carry over shots of deliveries (draw, shot, trait), one a draw, in m.

    The same carry as ``drive_cloud`` gives in its standard conditions, without the run.
    """
    table = flight_table(Conditions().air, physics.flight_constants())
    found = np.empty(deliveries.shape[0])
    step = max(1, BLOCK_ROWS // deliveries.shape[1])
    for start in range(0, deliveries.shape[0], step):
        block = slice(start, start + step)
        some = physics.take(block).as_column()
        delivery = _delivery(deliveries[block])
        outer = deliveries[block].shape[:2]
        launch = launch_rows(impact(delivery, some, STANDARD), outer)
        shape = some.flight_shape().reshape(-1, len(SHAPE_NAMES))
        per_shape = launch.shape[0] // shape.shape[0]
        landed = flight_of_rows(table.rows(launch, shape, per_shape), outer)
        found[block] = landed.carry_m.mean(axis=1)
    return found


def player_cloud(
    fit: Fit,
    player: str,
    *,
    seed: int = 1,
    draws: int = 400,
    shots: int = 64,
    physics: DriveParameters | None = None,
) -> Cloud:
    """Return a player's cloud at the last session, from ``draws`` evenly spaced posterior draws.

    ``physics`` holds calibrated parameters with one entry a draw of the cloud (see
    ``cloud_draws``); by default they are drawn from the published prior.
    """
    kept = spaced(fit.samples, draws)
    if physics is not None and physics.shape not in ((), kept.shape):
        raise ValueError(f"physics has shape {physics.shape}, the cloud {kept.shape}")
    levels = [level_draws(fit, player, t)[kept] for t in DELIVERY]
    session = np.stack([session_sd_draws(fit, t)[kept] for t in DELIVERY], axis=1)
    shot = shot_covariance_draws(fit, player, DELIVERY)[kept]
    normals = shot_normals(shots, seed)
    return Cloud(
        player=player,
        as_of=session_starts(fit, player)[-1],
        level=np.stack(levels, axis=1),
        scatter=_scatter(shot, session, normals),
        tight_scatter=_scatter(shot * TIGHTER**2, session, normals),
        physics=physics or draw_parameters(kept.size, np.random.default_rng(seed)),
    )


def cloud_draws(fit: Fit, draws: int) -> int:
    """Return how many draws a cloud of at most ``draws`` has."""
    return spaced(fit.samples, draws).size


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


def _scatter(shot: Floats, session_sd: Floats, normals: Floats) -> Floats:
    covariance = shot.copy()
    diagonal = np.arange(len(DELIVERY))
    covariance[:, diagonal, diagonal] += session_sd**2
    factor = np.linalg.cholesky(covariance)
    return np.asarray(np.einsum("dkj,sj->dsk", factor, normals), dtype=np.float64)


def _delivery(deliveries: Floats) -> Delivery:
    """Return deliveries by name, a strike past the edge of the face counted as at the edge."""
    columns = {name: deliveries[:, :, i] for i, name in enumerate(DELIVERY)}
    for name in ("strike_toe_mm", "strike_up_mm"):
        low, high, _ = DELIVERY_RANGES[name]
        columns[name] = np.clip(columns[name], low, high)
    return Delivery(**columns)
