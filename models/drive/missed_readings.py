"""Readings a device missed, worked out from what the ball did.

With x the missing trait and k the readings of the others, the ball's speed, launch and spin are

    y = f(x, k) + reading error + model error,     k_true = k + reading error,

f the calibrated impact. To first order in k's errors y - f(x, k) ~ Normal(0, V) with
V = diag(reading^2 + model^2) + F_k diag(reading_k^2) F_k' + what the uncertain constants do to
the ball (their draws' covariance at the shot), and x is where its generalised least
squares are least (Gauss-Newton), with variance 1 / (F_x' V^-1 F_x). The prior of x is flat: the
result is one more reading, for a model that has a prior of its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from models.arrays import Bools, Floats
from models.drive.drive import DELIVERY_RANGES
from models.drive.heads import STANDARD, Head
from models.drive.impact import Delivery, impact
from models.drive.parameters import DriveParameters

type Spread = Mapping[str, float | Floats]

INFERABLE: Final = ("attack_deg", "strike_up_mm", "loft_deg")
"""What the ball tells on, one at a time; a shot that misses two of them stays as it is."""

BALL: Final = ("ball_speed_mps", "launch_deg", "spin_rpm")

SIDEWAYS_SD: Final[Mapping[str, float]] = {"path_deg": 4.0, "face_deg": 3.5}
"""Path and face that were not read count as 0 with this SD: a squad's players and shots together
(our estimate from the spreads of the drive prior)."""

USEFUL_SD: Final[Mapping[str, float]] = {"attack_deg": 2.0, "strike_up_mm": 8.0, "loft_deg": 2.0}
"""A vaguer reading is not given: beyond some 1.5 times a player's own shot-to-shot SD it says
next to nothing that the player's other shots do not."""

CONTRADICTION: Final = 13.8
"""Limit of the sum of squares left over, the 99.9 % point of chi-square with 2 degrees of freedom
(tables): past it launch, spin and speed contradict each other or the club, as a misread does."""

_START: Final = {"attack_deg": 0.0, "strike_up_mm": 0.0, "loft_deg": 13.0}
_STEP: Final = {"attack_deg": 0.05, "strike_up_mm": 0.2, "loft_deg": 0.05}
_LONGEST_MOVE: Final = {"attack_deg": 4.0, "strike_up_mm": 8.0, "loft_deg": 4.0}
_FIRST_MOVES: Final = 4
_LAST_MOVES: Final = 3
_LEAST_STEP: Final = 1e-3
_ABSENT_VARIANCE: Final = 1e12


@dataclass(frozen=True, slots=True, eq=False)
class Inferred:
    """By trait, one entry a shot: the reading and its SD; NaN where nothing is inferred."""

    value: Mapping[str, Floats]
    sd: Mapping[str, Floats]


def infer_missing(
    known: Mapping[str, Floats],
    ball: Mapping[str, Floats],
    *,
    parameters: DriveParameters,
    reading_sd: Spread,
    model_sd: Mapping[str, float],
    doubt: DriveParameters | None = None,
    which: Sequence[str] = INFERABLE,
    head: Head = STANDARD,
) -> Inferred:
    """Return what attack, strike height or loft must have been in the shots that lack one of them.

    ``known`` holds the seven delivery traits and ``ball`` speed, launch and spin, one entry a
    shot, NaN where missing (a trait that was never read may be absent). Where ``ball`` has
    ``axis_deg`` too, backspin takes the place of spin: then an unread path or face costs little.
    ``reading_sd`` gives the
    SD of a reading by trait, for the delivery and the ball, one number or one a shot; ``model_sd``
    how far the calibrated impact misses a ball of known delivery. Parameters are plain numbers;
    ``doubt`` holds draws of them, where they are uncertain.

    A shot is left alone unless exactly one of the three is missing and club speed and strike were
    read; also where the ball's readings contradict each other or leave the trait vaguer than
    ``USEFUL_SD``. Missing ball readings are left out.
    """
    unknown = [name for name in which if name not in INFERABLE]
    if unknown:
        raise ValueError(f"which: found {unknown}, wanted some of {list(INFERABLE)}")
    absent = [name for name in BALL if name not in reading_sd or name not in model_sd]
    absent += [name for name in DELIVERY_RANGES if name not in reading_sd]
    if absent:
        raise ValueError(f"reading_sd and model_sd: nothing for {absent}")
    shots = np.broadcast_shapes(*(np.shape(a) for a in (*known.values(), *ball.values())))
    if len(shots) != 1:
        raise ValueError(f"known and ball: found shape {shots}, wanted one entry a shot")
    club = {name: _column(known, name, shots) for name in DELIVERY_RANGES}
    seen = np.stack([_column(ball, name, shots) for name in BALL], axis=-1)
    spread = {name: np.broadcast_to(reading_sd[name], shots) for name in (*DELIVERY_RANGES, *BALL)}
    guessed = np.zeros((*shots, len(DELIVERY_RANGES)), dtype=np.bool_)
    for name, wide in SIDEWAYS_SD.items():
        unread = np.isnan(club[name])
        guessed[:, list(DELIVERY_RANGES).index(name)] = unread
        spread[name] = np.where(unread, wide, spread[name])
        club[name] = np.nan_to_num(club[name])
    club_sd = np.stack([spread[name] for name in DELIVERY_RANGES], axis=-1)
    noise = np.stack([spread[name] ** 2 + model_sd[name] ** 2 for name in BALL], axis=-1)
    axis = _column(ball, "axis_deg", shots)
    tilted = ~np.isnan(axis)
    tilt = np.radians(np.nan_to_num(axis))
    turned_rpm = seen[:, 2] * np.sin(tilt) * np.radians(reading_sd.get("axis_deg", 0.0))
    noise[:, 2] += np.where(tilted, turned_rpm, 0.0) ** 2
    seen[:, 2] *= np.cos(tilt)
    noise = np.where(np.isnan(seen), _ABSENT_VARIANCE, noise)

    lacking = np.stack([np.isnan(club[name]) for name in INFERABLE], axis=-1)
    usable = (lacking.sum(axis=-1) == 1) & ~np.isnan(seen).all(axis=-1)
    for name in ("club_speed_mps", "strike_toe_mm"):
        usable &= ~np.isnan(club[name])
    value = {name: np.full(shots, np.nan) for name in which}
    sd = {name: np.full(shots, np.nan) for name in which}
    for name in which:
        (rows,) = np.nonzero(usable & lacking[:, INFERABLE.index(name)])
        if rows.size:
            part = {trait: column[rows] for trait, column in club.items()}
            shots_of = (club_sd[rows], guessed[rows], seen[rows], noise[rows], tilted[rows])
            value[name][rows], sd[name][rows] = _Shots(
                name, part, *shots_of, parameters, doubt, head
            ).answer()
    return Inferred(value, sd)


def _column(table: Mapping[str, Floats], name: str, shots: tuple[int, ...]) -> Floats:
    column = table.get(name)
    if column is None:
        return np.full(shots, np.nan)
    return np.array(np.broadcast_to(np.asarray(column, dtype=np.float64), shots))


@dataclass(frozen=True, slots=True, eq=False)
class _Shots:
    """Shots that miss one and the same trait.

    Arrays are (shot, ...), those of the club in the order of ``DELIVERY_RANGES``.
    """

    missing: str
    club: Mapping[str, Floats]
    club_sd: Floats
    guessed: Bools
    seen: Floats
    noise: Floats
    tilted: Bools
    parameters: DriveParameters
    doubt: DriveParameters | None
    head: Head

    def answer(self) -> tuple[Floats, Floats]:
        """Return the missing trait and its SD, NaN where it is not worth giving."""
        name = self.missing
        low, high, _ = DELIVERY_RANGES[name]
        start = np.full(len(self.seen), _START[name])
        x, variance, _ = self._descend(start, *self._spread_at(start), _FIRST_MOVES)
        shift, weight = self._spread_at(x, np.sqrt(variance))
        x, variance, left_over = self._descend(x, shift, weight, _LAST_MOVES)
        sd = np.sqrt(variance)
        good = (sd <= USEFUL_SD[name]) & (left_over <= CONTRADICTION) & (low < x) & (x < high)
        return np.where(good, x, np.nan), np.where(good, sd, np.nan)

    def _ball(
        self,
        x: Floats,
        change: Mapping[str, Any] | None = None,
        parameters: DriveParameters | None = None,
    ) -> Floats:
        """Return (..., shot, 3) of the impact with the missing trait at ``x`` (..., shot)."""
        delivery = replace(Delivery(**{**self.club, self.missing: x}), **(change or {}))
        ball = impact(delivery, parameters or self.parameters, self.head)
        backspin = ball.spin_rpm * np.where(self.tilted, np.cos(np.radians(ball.axis_deg)), 1.0)
        return np.stack([ball.ball_speed_mps, ball.launch_deg, backspin], axis=-1)

    def _spread_at(self, x: Floats, x_sd: Floats | None = None) -> tuple[Floats, Floats]:
        """Return what the readings' errors shift the ball by in the mean, and V^-1.

        Three-point differences at sqrt(3) SD: exact in mean and variance for a parabola. A reading
        scatters about the truth, so its curvature is taken off; the truth scatters about a path or
        face that was not read, so there it is added. Where the trait's own SD is given, its
        curvature and its play with the readings' errors are taken off too, as in the bias of a
        curved least-squares fit: 1/2 F_xx var(x) + sum_j F_xj cov(x, k_j).
        """
        reach = np.full_like(x, _STEP[self.missing]) if x_sd is None else x_sd
        places = np.stack([x - reach, x, x + reach])
        below, middle, above = self._ball(places)
        shift = np.zeros_like(middle)
        covariance = self.noise[:, :, None] * np.eye(len(BALL))
        if self.doubt is not None:
            apart = self._ball(x, parameters=self.doubt.as_column())
            apart = apart - apart.mean(axis=0)
            covariance += np.einsum("dni,dnj->nij", apart, apart) / (len(apart) - 1)
        slopes, plays = [], []
        for j, trait in enumerate(DELIVERY_RANGES):
            if trait == self.missing:
                continue
            sd = self.club_sd[:, j]
            step = np.maximum(np.sqrt(3.0) * sd, _LEAST_STEP)
            at = x if x_sd is None else places
            ahead = self._ball(at, {trait: self.club[trait] + step})
            behind = self._ball(at, {trait: self.club[trait] - step})
            if x_sd is not None:
                play = (ahead[2] - behind[2] - ahead[0] + behind[0]) / (4.0 * step[:, None])
                plays.append(np.where(self.guessed[:, j, None], 0.0, play))
                ahead, behind = ahead[1], behind[1]
            slope = (0.5 * sd / step)[:, None] * (ahead - behind)
            bend = ((sd / step) ** 2)[:, None] * (0.5 * (ahead + behind) - middle)
            guessed = self.guessed[:, j, None]
            shift += np.where(guessed, bend, -bend)
            covariance += slope[:, :, None] * slope[:, None, :]
            covariance += 2.0 * bend[:, :, None] * bend[:, None, :]
            slopes.append(sd[:, None] * slope)
        weight = np.linalg.inv(covariance)
        if x_sd is not None:
            along = (above - below) / (2.0 * reach)[:, None]
            pull = np.einsum("ni,nij->nj", along, weight)
            variance = 1.0 / np.einsum("ni,ni->n", pull, along)
            shift -= (0.5 * variance / reach**2)[:, None] * (above + below - 2.0 * middle)
            for slope, play in zip(slopes, plays, strict=True):
                together = -variance * np.einsum("ni,ni->n", pull, slope)
                shift -= (together / reach)[:, None] * play
        return shift, weight

    def _descend(
        self, x: Floats, shift: Floats, weight: Floats, moves: int
    ) -> tuple[Floats, Floats, Floats]:
        """Return the trait with the least squares, its variance and the squares left over."""
        low, high, _ = DELIVERY_RANGES[self.missing]
        step, longest = _STEP[self.missing], _LONGEST_MOVE[self.missing]
        for _ in range(moves):
            behind, middle, ahead = self._ball(np.stack([x - step, x, x + step]))
            slope = (ahead - behind) / (2.0 * step)
            residual = np.nan_to_num(self.seen - middle - shift)
            pull = np.einsum("ni,nij->nj", slope, weight)
            variance = 1.0 / np.einsum("ni,ni->n", pull, slope)
            move = variance * np.einsum("ni,ni->n", pull, residual)
            x = np.clip(x + np.clip(move, -longest, longest), low, high)
        residual = np.nan_to_num(self.seen - self._ball(x) - shift)
        return x, variance, np.einsum("ni,nij,nj->n", residual, weight, residual)
