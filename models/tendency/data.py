"""The session summaries that the tendency model reads: of a squad, and of one trait of it."""

from dataclasses import dataclass
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from models.arrays import Floats, Indices
from models.tendency.likelihood import LEAST_CHANCE, SquadRows
from models.traits import FACE_HALF_MM, STRIKES, Prior


@dataclass(frozen=True, eq=False)
class TendencyData:
    """Session summaries of a squad, already validated.

    P players, S sessions (a player's own order, padded at the end), K traits, M methods a trait,
    C logged changes, G names of changes, J pairs of traits.
    """

    players: tuple[str, ...]
    traits: tuple[str, ...]
    week: Floats
    """(P, S) weeks since the squad's first session, inf in padding."""
    gap: Floats
    """(P, S) weeks since the player's previous session, 0 for the first and in padding."""
    count: Floats
    """(M, P, S, K) effective number of readings, 0 where there is none."""
    mean: Floats
    """(M, P, S, K) their robust mean."""
    scatter: Floats
    """(M, P, K) sum of squares within sessions."""
    scatter_df: Floats
    """(M, P, K) degrees of freedom of ``scatter``."""
    reading_sd: Floats
    """(M, K) SD of one reading."""
    change_player: Indices
    """(C,) whose change it is."""
    change_week: Floats
    """(C,) when it started."""
    effect_change: Indices
    """(E,) which change acts ..."""
    effect_trait: Indices
    """(E,) ... on which trait."""
    effect_group: Indices
    """(E,) which (name, trait) group it belongs to."""
    group_trait: Indices
    """(groups,) trait of each group."""
    pair_z: Floats
    """(P, J) Fisher z of the correlation of two traits within sessions."""
    pair_variance: Floats
    """(P, J) its sampling variance, infinite where nothing is known."""
    missed: Floats
    """(P,) shots struck off the readable face."""
    strike_mean: Floats
    """(P, 2) where the player's readable strikes lie, across and up, in mm."""

    def read(self) -> NDArray[np.bool_]:
        """Return which traits have a reading at all, (K,)."""
        return np.asarray(self.count.sum(axis=(0, 1, 2)) > 0)


class _Face(TypedDict):
    """What a trait's misses of the face are judged by, as ``TraitSeries`` names it."""

    missed: Floats
    centre: Floats
    half: float
    other_inside: Floats


class _Changes(TypedDict):
    """A trait's logged changes, as ``TraitSeries`` names them."""

    change_first: Indices
    change_at: Indices
    change_group: Indices
    effect: Indices
    groups: Indices


@dataclass(frozen=True, eq=False)
class TraitSeries:
    """One trait of a squad as the likelihood takes it: sessions of all players in one row.

    R sessions, P players, M methods, C changes that begin no later than their player's last
    session, G groups of changes by name.
    """

    first: Indices
    """(P + 1,) where each player's sessions begin."""
    gap: Floats
    """(R,) weeks since the player's previous session."""
    count: Floats
    """(R, M) effective number of readings."""
    mean: Floats
    """(R, M) their robust mean."""
    scatter: Floats
    """(P, M) sum of squares within sessions."""
    scatter_df: Floats
    """(P, M) its degrees of freedom."""
    reading2: Floats
    """(M,) variance of one reading."""
    missed: Floats
    """(P,) shots that missed the readable face; 0 for other traits than strikes."""
    centre: Floats
    """(P,) where the player's readable strikes lie."""
    half: float
    """Half the width of the readable face in this direction, mm."""
    other_inside: Floats
    """(P,) chance that a shot is on the face in the other direction."""
    best: Floats
    """(P,) the log shot SD that the player's scatter points to ..."""
    information: Floats
    """(P,) ... and how surely: the curvature of its log likelihood there."""
    change_first: Indices
    """(P + 1,) where each player's changes begin, ordered by their start."""
    change_at: Indices
    """(C,) first session of each change, a place among the player's own."""
    change_group: Indices
    """(C,) its group, among the groups of this trait."""
    effect: Indices
    """(C,) which of the squad's effects it is."""
    groups: Indices
    """(G,) which of the squad's groups these are."""

    @property
    def moving(self) -> bool:
        """Return whether anybody has two sessions with readings, so that a level can move."""
        read = self.count.sum(axis=1) > 0
        seen = np.add.reduceat(read.astype(np.int64), self.first[:-1])
        return bool((seen > 1).any())

    def rows(self) -> SquadRows:
        """Return what the compiled sweeps take of it."""
        return SquadRows(*(getattr(self, name) for name in SquadRows._fields))


def trait_series(data: TendencyData, k: int, prior: Prior) -> TraitSeries:
    """Return one trait's part of a squad's summaries."""
    players = len(data.players)
    sessions = np.isfinite(data.week).sum(axis=1)
    first = np.concatenate([[0], np.cumsum(sessions)]).astype(np.int64)
    owner = np.repeat(np.arange(players), sessions)
    place = np.arange(first[-1]) - first[owner]
    methods = int(max(np.flatnonzero(data.count[..., k].sum(axis=(1, 2)) > 0), default=0)) + 1
    reading2 = np.ascontiguousarray(data.reading_sd[:methods, k] ** 2)
    scatter = np.ascontiguousarray(data.scatter[:methods, :, k].T)
    scatter_df = np.ascontiguousarray(data.scatter_df[:methods, :, k].T)
    face = _missed(data, k)
    best, information = _scatter_peak(scatter, scatter_df, reading2, face, prior)
    effects = _effects(data, k, sessions)
    return TraitSeries(
        first=first,
        gap=np.ascontiguousarray(data.gap[owner, place]),
        count=np.ascontiguousarray(data.count[:methods, owner, place, k].T),
        mean=np.ascontiguousarray(data.mean[:methods, owner, place, k].T),
        scatter=scatter,
        scatter_df=scatter_df,
        reading2=reading2,
        **face,
        best=best,
        information=information,
        **effects,
    )


def _effects(data: TendencyData, k: int, sessions: Indices) -> _Changes:
    """Return the trait's changes by player, as ``TraitSeries`` names them."""
    rows = []
    for e in np.flatnonzero(data.effect_trait == k):
        c = data.effect_change[e]
        p = int(data.change_player[c])
        at = int(np.searchsorted(data.week[p, : sessions[p]], data.change_week[c]))
        if at < sessions[p] and data.count[:, p, :, k].any():
            rows.append((p, float(data.change_week[c]), at, int(data.effect_group[e]), int(e)))
    rows.sort()
    groups = np.array(sorted({r[3] for r in rows}), dtype=np.int64)
    owner = np.array([r[0] for r in rows], dtype=np.int64)
    return {
        "change_first": np.searchsorted(owner, np.arange(len(sessions) + 1)).astype(np.int64),
        "change_at": np.array([r[2] for r in rows], dtype=np.int64),
        "change_group": np.searchsorted(groups, [r[3] for r in rows]).astype(np.int64),
        "effect": np.array([r[4] for r in rows], dtype=np.int64),
        "groups": groups,
    }


def _missed(data: TendencyData, k: int) -> _Face:
    """Return what the trait's misses of the face are judged by.

    The two strikes meet in the chance of a miss alone. So that each stays a posterior of its own,
    the other direction's part is taken at that direction's own scatter.
    """
    players = len(data.players)
    if not set(STRIKES) <= set(data.traits) or data.traits[k] not in STRIKES:
        nothing = np.zeros(players)
        return {"missed": nothing, "centre": nothing, "half": 1.0, "other_inside": nothing}
    j = STRIKES.index(data.traits[k])
    other = data.traits.index(STRIKES[1 - j])
    df = np.maximum(data.scatter_df[:, :, other].sum(axis=0), 1.0)
    sd = np.sqrt(np.maximum(data.scatter[:, :, other].sum(axis=0) / df, 1.0))
    half = FACE_HALF_MM[1 - j]
    middle = data.strike_mean[:, 1 - j]
    inside = _inside((half - middle) / sd) - _inside((-half - middle) / sd)
    return {
        "missed": data.missed,
        "centre": np.ascontiguousarray(data.strike_mean[:, j]),
        "half": FACE_HALF_MM[j],
        "other_inside": inside,
    }


def _missed_logp(
    log_shot_sd: Floats, missed: Floats, centre: Floats, half: float, other_inside: Floats
) -> Floats:
    """Return the log chance of each player's shots that missed the face."""
    sd = np.exp(log_shot_sd)
    inside = _inside((half - centre) / sd) - _inside((-half - centre) / sd)
    return np.asarray(missed * np.log(1 - inside * other_inside + LEAST_CHANCE))


def _inside(z: Floats) -> Floats:
    """Return the distribution function of a Student t with 5 degrees of freedom and SD 1."""
    return np.asarray(stdtr(5.0, z / np.sqrt(0.6)))


def _scatter_peak(
    scatter: Floats,
    scatter_df: Floats,
    reading2: Floats,
    face: _Face,
    prior: Prior,
) -> tuple[Floats, Floats]:
    """Return where each player's scatter and misses put the log shot SD, and the curvature there.

    A player whose scatter is no more than reading error points nowhere by itself, so the peak is
    that with a wide prior, and the scatter's own part of it is handed on.
    """
    wide2 = prior.log_shot_sd_spread**2 + 0.5**2
    middle = np.log(prior.shot_sd)
    x = np.full(len(scatter), middle)
    slope, curve = np.zeros_like(x), np.zeros_like(x)
    for _ in range(30):
        shot2 = np.exp(2 * x)[:, None]
        v = shot2 + reading2
        share = shot2 / v
        slope = -((scatter_df - scatter / v) * share).sum(axis=1)
        curve = 2 * (scatter_df * share**2).sum(axis=1)  # the expected information
        low, here, high = (_missed_logp(x + h, **face) for h in (-0.01, 0.0, 0.01))
        slope = slope + (high - low) / 0.02
        curve = curve + np.maximum(2 * here - low - high, 0.0) / 0.01**2
        x = x + np.clip((slope - (x - middle) / wide2) / (curve + 1 / wide2), -1, 1)
    some = curve > 1e-6
    best = np.where(some, x + slope / np.where(some, curve, 1.0), middle)
    return best, np.where(some, curve, 0.0)
