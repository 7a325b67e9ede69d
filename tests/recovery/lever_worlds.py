"""Whether the lever that the tool puts first is the one that pays: academies whose drills differ.

Every academy has heads, balls and drill sizes of its own (as in the demo, half, double, no drill
that does anything, no drill ever logged). A lever's true worth to a player is flown by the
academy's own impact and flight, from the planted level and scatter, loft following attack as
planted, over the planted distribution of what the drill does; a drill that the player has done
does half of that again (an invention of this module). A new drill moves a player by .41 of the
planted spread between players, as 607 interventions did on average (Kluger & DeNisi 1996, Psychol.
Bull. 119:254), with as much spread, times the size of the academy's drills. Moves toward the
tool's target stop there, for every rule alike.

Academies have two players for each of the demo's, and so a dozen who do a drill: with half of them
a log does not tell an academy whose drills are of half the size from one as the demo (who knows
all but which of the laws is whose then misses .5 to .6 of what the former rule does).

Rules: the tool's first lever; the rule it took the place of (the trait with the largest carry
gain per session at 40 % of the way to its best, however far away); the commonest drill of the
log; the trait farthest from a textbook delivery; the same by the player's last four shots.
"""

from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import ndtri

from models.traits import DELIVERY, TARGETED
from synthetic_data import AcademySpec, PlannedDrill, make_academy
from synthetic_data.ball import first_touch
from synthetic_data.heads import drawn_drive
from synthetic_data.spec import DRILLS, session_sd
from synthetic_data.spec import TRAITS as PLANTED
from tests.recovery.test_planted_truth import log_of
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.gain import squad_gains
from tracker.decisions.distance.levers import DEFAULT_EFFORT_SESSIONS, new_drill
from tracker.decisions.distance.target import find_target
from tracker.fits.fitting import FitRequest, fit_shots

GATE = PlannedDrill("two-tee gate", "strike_toe_mm", 5.0, 1.5, 0.7, players=6)
CLOSING = PlannedDrill("early-turn swings", "face_deg", -1.5, 0.5, 0.7, players=6)
ACADEMY_DRILLS = (*DRILLS, GATE, CLOSING)
SIZES = {"as the demo": 1.0, "half": 0.5, "double": 2.0, "nothing works": 0.0}
NO_HISTORY = "no history"
ACADEMIES = (
    ("as the demo", 71), ("as the demo", 72), ("half", 73), ("half", 74),
    ("double", 75), ("double", 76), ("nothing works", 77), (NO_HISTORY, 78),
    ("as the demo", 81), ("as the demo", 82), ("half", 83), ("half", 84),
    ("double", 85), ("double", 86), ("nothing works", 87), (NO_HISTORY, 88),
)  # fmt: skip
"""World and seed of each academy."""
PLAYERS = 28
NEW_SHARE = 0.41
"""A new drill's mean effect and its SD, in planted SDs between players."""
SECOND_ROUND = 0.5
"""What a second round of a drill adds, of what the first one did (an invention)."""
OLD_SHARE = 0.4
"""How far the former rule went toward the best."""
TEXTBOOK = {
    "strike_toe_mm": 0.0, "strike_up_mm": 3.0, "attack_deg": 3.0, "loft_deg": 14.0,
    "path_deg": 1.0, "face_deg": 0.0,
}  # fmt: skip
"""A delivery that a naive coach compares with (common practice, no source)."""
SHOTS, GRID, EFFECTS = 400, 17, 200
FARTHEST = 2.6
"""Bound of the evenly spread normals that draws are made of, and so of what is flown."""
RULES = ("tool", "former rule", "commonest", "textbook", "last four shots")


@dataclass(frozen=True)
class Scored:
    """One player: what each rule's lever truly pays a session, and how the tool's claims did.

    ``rates``: by rule, m a session; ``best_rate``: of the best lever. ``claims``: of every lever
    claimed mean gain, low, high, true mean gain, share of true outcomes inside low and high,
    claimed P(best), share of true outcomes in which it was best.
    """

    world: str
    player: str
    rates: dict[str, float]
    best_rate: float
    first_claim: tuple[float, float] | None
    claims: list[tuple[float, float, float, float, float, float, float]] = field(
        default_factory=list
    )


def scored_academy(world, seed):
    """Fit one academy and score every rule on every player."""
    size = SIZES.get(world, 1.0)
    many = PLAYERS / AcademySpec().players
    drills = tuple(
        replace(
            d, effect=d.effect * size, effect_sd=d.effect_sd * size, players=round(d.players * many)
        )
        for d in ACADEMY_DRILLS
    )
    spec = AcademySpec(players=PLAYERS, drills=() if world == NO_HISTORY else drills)
    academy = make_academy(seed, spec, drawn_drive(seed))
    shots, changes = log_of(academy)
    fit, _ = fit_shots(shots, changes, FitRequest(references=("photo", "radar")))
    between = dict(
        zip(PLANTED, np.std([p.baseline for p in academy.players], axis=0, ddof=1), strict=True)
    )
    gains = {one.player: one for one in squad_gains(fit)}
    return [
        _scored(academy, world, i, gains[player.name], fit, shots, between)
        for i, player in enumerate(academy.players)
    ]


def _scored(academy, world, i, gains, fit, shots, between):
    name = academy.players[i].name
    rng = np.random.default_rng([academy.seed, i])
    share = NEW_SHARE * SIZES.get(world, 1.0)
    level, around = true_shots(academy, i)
    cloud = player_cloud(fit, name, draws=48, shots=24)
    aims = {t: find_target(cloud, t) for t in TARGETED}
    planned = {d.name: d for d in academy.spec.drills}
    farthest_move = {
        t: max(
            (1 + FARTHEST) * share * between[t],
            *(abs(d.effect) + FARTHEST * d.effect_sd for d in planned.values() if d.trait == t),
            0.0,
        )
        for t in TARGETED
    }
    worth = {
        t: worth_of_moves(academy, i, level, around, t, aims[t].best, farthest_move[t])
        for t in TARGETED
    }
    done = {c.name: c.effect for c in academy.changes if c.player == name}
    levers = [row for row in gains.levers if row.kind != "yardstick"]
    true = {}
    for row in levers:
        k = PLANTED.index(row.trait)
        gap = aims[row.trait].best - level[k]
        moves = moves_of(
            planned.get(row.name), done.get(row.name), gap, between[row.trait], share, rng
        )
        toward = np.sign(gap) * moves > 0
        moves = np.where(toward, np.sign(gap) * np.minimum(abs(moves), abs(gap)), moves)
        true[row.trait, row.name] = worth[row.trait](moves)
    effort = {(row.trait, row.name): row.effort_sessions for row in levers}
    rates = {key: float(draws.mean()) / effort[key] for key, draws in true.items()}
    per_session = np.stack([true[key] / effort[key] for key in true])
    best_share = dict(
        zip(
            true,
            np.bincount(per_session.argmax(axis=0), minlength=len(true)) / EFFECTS,
            strict=True,
        )
    )
    chosen = {
        "tool": (gains.levers[0].trait, gains.levers[0].name) if gains.first else None,
        "former rule": _for_trait(former_rule(cloud, aims, effort), level, aims, planned, done),
        "commonest": _commonest(academy, effort),
        "textbook": _for_trait(farthest(level, between), level, aims, planned, done),
        "last four shots": _for_trait(
            farthest(_last_four(shots, name), between), level, aims, planned, done
        ),
    }
    first = gains.levers[0] if gains.first else None
    return Scored(
        world,
        name,
        {rule: rates.get(key, 0.0) if key else 0.0 for rule, key in chosen.items()},
        max(0.0, *rates.values()),
        None
        if first is None
        else (first.mean_gain_m, float(true[first.trait, first.name].mean())),
        [
            (
                row.mean_gain_m, row.gain_m.low90, row.gain_m.high90, float(draws.mean()),
                float(np.mean((draws >= row.gain_m.low90) & (draws <= row.gain_m.high90))),
                row.p_best, float(best_share[row.trait, row.name]),
            )
            for row in levers
            for draws in (true[row.trait, row.name],)
        ],
    )  # fmt: skip


def true_shots(academy, i):
    """A player's planted level at the last session, and how shots lie around it."""
    assert DELIVERY == PLANTED
    player, spec = academy.players[i], academy.spec
    mine = academy.tendencies[academy.tendencies["player"] == player.name]
    rng = np.random.default_rng([academy.seed, i, 1])
    half = SHOTS // 2
    days = np.array([session_sd()[t] for t in PLANTED]) * rng.standard_normal((half, 7))
    wild = np.sqrt((spec.tail_df - 2) / rng.chisquare(spec.tail_df, half))
    root = np.linalg.cholesky(player.shot_covariance)
    around = days + wild[:, None] * (rng.standard_normal((half, 7)) @ root.T)
    return mine[list(PLANTED)].to_numpy()[-1], np.concatenate([around, -around])


def worth_of_moves(academy, i, level, around, trait, aim, farthest_move):
    """What each move of one trait is worth, m toward the target, up to the farthest there is.

    A curve through what was flown: straight lines would cut the corners off a hill, and with them
    a third of all gain.
    """
    k = PLANTED.index(trait)
    shot_sd = np.sqrt(academy.players[i].shot_covariance[k, k])
    reach = 1.01 * max(abs(aim - level[k]), farthest_move, shot_sd)
    moves = np.linspace(-reach, reach, GRID)
    value = []
    for move in moves:
        after = level + around
        after[:, k] += move
        if trait == "attack_deg":
            after[:, PLANTED.index("loft_deg")] += academy.spec.kappa * move
        value.append(true_distance(academy, i, after))
    return CubicSpline(moves, np.array(value) - true_distance(academy, i, level + around))


def true_distance(academy, i, deliveries):
    """Mean distance toward the target, m, with a player's own planted head, 20 C at sea level."""
    player, size = academy.players[i], len(deliveries)
    touch = first_touch(
        deliveries, np.full(size, 20.0), np.zeros(size), academy.drive_parameters,
        player.e0_offset, player.cg_height_offset_mm,
    )  # fmt: skip
    return float(touch[:, 0].mean())


def moves_of(drill, did, gap, between, share, rng):
    """Draws of what a lever truly does to a level; ``did`` is what it did to the player before.

    Evenly spread, in random order: the best of several means must not be the best by luck.
    """
    if did is not None:
        return np.full(EFFECTS, SECOND_ROUND * did)
    normals = np.clip(ndtri((np.arange(EFFECTS) + 0.5) / EFFECTS), -FARTHEST, FARTHEST)
    normals = rng.permutation(normals)
    if drill is None:
        return np.sign(gap) * share * (1 + normals) * between
    works = rng.permutation(np.arange(EFFECTS) < drill.responders * EFFECTS)
    return np.where(works, drill.effect + drill.effect_sd * normals, 0.0)


def former_rule(cloud, aims, effort):
    """The trait that the former rule put first."""
    now, gains = cloud.carry().mean(), {}
    for trait, aim in aims.items():
        here = cloud.level_of(trait)
        moved = cloud.moved(trait, here + OLD_SHARE * (aim.beyond - here))
        sessions = [e for (t, _), e in effort.items() if t == trait]
        usual = float(np.median(sessions)) if sessions else DEFAULT_EFFORT_SESSIONS
        gains[trait] = (moved.carry().mean() - now) / usual
    return max(gains, key=gains.get)


def farthest(level, between):
    """The trait farthest from the textbook, in planted SDs between players."""
    off = {
        t: abs(level[PLANTED.index(t)] - TEXTBOOK[t]) / between[t]
        for t in TEXTBOOK
        if np.isfinite(level[PLANTED.index(t)])
    }
    return max(off, key=off.get)


def _last_four(shots, name):
    mine = shots[shots["player"] == name].tail(4)
    return np.array([mine[t].mean() for t in PLANTED])


def _for_trait(trait, level, aims, planned, done):
    """What a coach does for a trait: a drill not meant the other way, else a new one."""
    way = np.sign(aims[trait].best - level[PLANTED.index(trait)])
    for drill in planned.values():
        if drill.trait == trait and drill.name not in done and drill.effect * way >= 0:
            return trait, drill.name
    return trait, new_drill(trait).name


def _commonest(academy, effort):
    counted = Counter((c.trait, c.name) for c in academy.changes)
    return counted.most_common(1)[0][0] if counted else None
