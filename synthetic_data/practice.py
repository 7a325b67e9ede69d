"""What truly happens at practice: levels that drift, days that differ, shots, and drills.

tendency(player, session) = baseline + random walk + drills begun, loft following attack
shot = tendency + session effect + multivariate Student-t scatter (covariance as planted)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from synthetic_data.arrays import Floats, Indices
from synthetic_data.roster import PlayerTruth, loft_follows, own_loft_sd
from synthetic_data.season import Timetable
from synthetic_data.spec import (
    ATTACK,
    LOFT,
    TIERS,
    TRAITS,
    AcademySpec,
    PlannedDrill,
    drift_sd_per_sqrt_week,
    session_sd,
)

FEWEST_SESSIONS_FOR_A_DRILL = 6


@dataclass(frozen=True, slots=True)
class PlantedChange:
    """A drill as logged, and what it truly does to this player's level from ``start`` on."""

    player: str
    start: date
    name: str
    trait: str
    effect: float
    effort_sessions: float
    kind: str = "drill"


@dataclass(frozen=True, slots=True, eq=False)
class Practice:
    """The truth before any drill: (session, trait), (session, trait) and (shot, trait)."""

    tendency: Floats
    session_effect: Floats
    scatter: Floats
    session_idx: Indices

    def delivered(self) -> Floats:
        """Return every true shot, shape (shot, trait)."""
        true: Floats = (self.tendency + self.session_effect)[self.session_idx] + self.scatter
        return true


def practise(
    players: Sequence[PlayerTruth],
    season: Timetable,
    spec: AcademySpec,
    rng: np.random.Generator,
) -> Practice:
    """Return a season of practice in which no drill is given."""
    follow = loft_follows(spec.kappa)
    baseline = np.stack([p.baseline for p in players])[season.player_idx]
    step_sd = np.array(list(drift_sd_per_sqrt_week().values()))
    step_sd[LOFT] = own_loft_sd(step_sd[LOFT], step_sd[ATTACK], spec.kappa)
    first = np.r_[True, np.diff(season.player_idx) > 0]
    weeks = np.where(first, 0.0, np.diff(season.week, prepend=season.week[:1]))
    steps = rng.normal(size=baseline.shape) * step_sd * np.sqrt(weeks)[:, None]
    walk = np.cumsum(steps, axis=0)
    walk -= walk[np.maximum.accumulate(np.where(first, np.arange(len(first)), 0))]
    tendency = baseline + walk @ follow.T

    effect = rng.normal(size=baseline.shape) * _session_sd(players, season, spec) @ follow.T

    session_idx = np.repeat(np.arange(len(season.day)), season.shots)
    root = np.stack([np.linalg.cholesky(p.shot_covariance) for p in players])
    root = root[season.player_idx[session_idx]]
    normal = np.einsum("nij,nj->ni", root, rng.normal(size=(len(session_idx), len(TRAITS))))
    # One chi-square a shot: a wild swing is wild in every trait. Scaled so the SD is as planted.
    spread = np.sqrt((spec.tail_df - 2) / rng.chisquare(spec.tail_df, len(session_idx)))
    return Practice(tendency, effect, normal * spread[:, None], session_idx)


def _session_sd(players: Sequence[PlayerTruth], season: Timetable, spec: AcademySpec) -> Floats:
    """Return the SD of the free part of the session effects, shape (session, trait)."""
    common = session_sd()
    whole = np.broadcast_to(np.array(list(common.values())), (len(players), len(TRAITS))).copy()
    if spec.session_sd_follows_player:
        share = whole[0] / np.array(TIERS[1].shot_sd)
        whole = share * np.stack([p.shot_sd for p in players])
    for sd in whole:
        sd[LOFT] = own_loft_sd(sd[LOFT], sd[ATTACK], spec.kappa)
    return whole[season.player_idx]


def give_drills(
    players: Sequence[PlayerTruth],
    season: Timetable,
    session_readings: Floats,
    drills: Sequence[PlannedDrill],
    rng: np.random.Generator,
) -> tuple[PlantedChange, ...]:
    """Return who is given which drill and when.

    ``session_readings`` (session, trait) is what the coach saw before any drill: session means
    with method bias and reading error. Nobody gets two drills on one trait.
    """
    changes: list[PlantedChange] = []
    for drill in drills:
        taken = {c.player for c in changes if c.trait == drill.trait}
        places = _choose(players, season, session_readings, drill, taken, rng)
        works = set(rng.permutation(len(places))[: round(drill.responders * len(places))].tolist())
        for i, (player, session) in enumerate(places):
            effect = float(rng.normal(drill.effect, drill.effect_sd)) if i in works else 0.0
            start = season.first_day + timedelta(days=int(season.day[session]))
            changes.append(
                PlantedChange(
                    players[player].name,
                    start,
                    drill.name,
                    drill.trait,
                    effect,
                    drill.effort_sessions,
                )
            )
    return tuple(changes)


def _choose(
    players: Sequence[PlayerTruth],
    season: Timetable,
    session_readings: Floats,
    drill: PlannedDrill,
    taken: set[str],
    rng: np.random.Generator,
) -> list[tuple[int, int]]:
    """Return (player, first session with the drill) for those given it."""
    seen = session_readings[:, TRAITS.index(drill.trait)]
    candidates: list[tuple[float, int, int]] = []
    for player in rng.permutation(len(players)).tolist():
        mine = season.of_player(player)
        if players[player].name in taken or len(mine) < FEWEST_SESSIONS_FOR_A_DRILL:
            continue
        margin = max(2, round(0.3 * len(mine)))
        window = np.arange(margin, len(mine) - margin + 1)
        if drill.given_to == "slump":
            fall = np.array([seen[mine[i - 1]] - seen[mine[: i - 1]].mean() for i in window])
            best = int(fall.argmin())
            candidates.append((float(fall[best]), player, int(mine[window[best]])))
        elif drill.given_to == "worst":
            start = int(mine[len(mine) // 2])
            candidates.append((float(seen[start - 1]), player, start))
        else:
            early = float(seen[mine[:margin]].mean())
            candidates.append((early, player, int(mine[rng.choice(window)])))
    if drill.given_to == "low":
        low = sorted(candidates)[: max(drill.players, round(2 / 3 * len(candidates)))]
        candidates = [c for c in candidates if c in low]
    elif drill.given_to in ("worst", "slump"):
        candidates.sort()
    return [(player, session) for _, player, session in candidates[: drill.players]]


def drilled(
    practice: Practice,
    players: Sequence[PlayerTruth],
    season: Timetable,
    changes: Sequence[PlantedChange],
    kappa: float,
) -> Practice:
    """Return the same season with every change's effect on the level, loft following attack."""
    shift = np.zeros_like(practice.tendency)
    names = np.array([p.name for p in players])[season.player_idx]
    for change in changes:
        begun = (names == change.player) & (season.day >= (change.start - season.first_day).days)
        shift[begun, TRAITS.index(change.trait)] += change.effect
    return Practice(
        practice.tendency + shift @ loft_follows(kappa).T,
        practice.session_effect,
        practice.scatter,
        practice.session_idx,
    )
