"""The record of everything planted in an academy, as plain numbers in SI trait units."""

from dataclasses import asdict
from typing import Any

import numpy as np

from synthetic_data.academy import Academy
from synthetic_data.arrays import Floats
from synthetic_data.spec import (
    BALL_READING_SD,
    BALL_TRAITS,
    DELIVERY_METHODS,
    FACE_HALF_MM,
    STRIKE_METHODS,
    TRAITS,
    drift_sd_per_sqrt_week,
    session_sd,
)

DECIMALS = 4

Record = dict[str, Any]


def truth_record(academy: Academy) -> Record:
    """Return the truth as nested plain dictionaries, ready for JSON.

    ``sessions`` of a player give the tendency (the level: drift and drills in, session effect
    out) and the session effect by trait. A change's ``effect`` is on its own trait; ``loft_deg``
    moves by kappa times an effect on attack as well.
    """
    spec = academy.spec
    return {
        "seed": academy.seed,
        "first_day": spec.first_day.isoformat(),
        "last_day": spec.last_day.isoformat(),
        "traits": list(TRAITS),
        "ball_traits": list(BALL_TRAITS) if spec.ball_data else [],
        "kappa_deg_per_deg": spec.kappa,
        "tail_df": spec.tail_df,
        "session_sd": _session_sds(academy),
        "drift_sd_per_sqrt_week": _rounded(drift_sd_per_sqrt_week()),
        "methods": {
            "strike": {m.name: {"bias": dict(m.bias), "sd": dict(m.sd)} for m in STRIKE_METHODS},
            "delivery": {
                m.name: {"bias": dict(m.bias), "sd": dict(m.sd)} for m in DELIVERY_METHODS
            },
            "ball": {"sd": dict(BALL_READING_SD)},
        },
        "missing_share": {
            "strike": spec.strike_missing_share,
            "delivery": spec.delivery_missing_share,
            "ball": spec.ball_missing_share,
            "session_without_strike": spec.session_without_strike_share,
            "session_without_ball": spec.session_without_ball_share,
        },
        "misread_share": spec.misread_share,
        "readable_face_half_mm": list(FACE_HALF_MM),
        "head": asdict(academy.drive_parameters.head),
        "flight": asdict(academy.drive_parameters.flight),
        "drills": [asdict(drill) for drill in spec.drills],
        "changes": [
            {
                "player": c.player,
                "start": c.start.isoformat(),
                "name": c.name,
                "trait": c.trait,
                "effect": round(c.effect, DECIMALS),
            }
            for c in academy.changes
        ],
        "players": {p.name: _player(academy, i) for i, p in enumerate(academy.players)},
        "misreads": [
            {
                "player": str(row.player),
                "session": str(row.session),
                "shot": int(str(row.shot)),
                "trait": str(row.trait),
            }
            for row in academy.misreads.itertuples()
        ],
    }


def _session_sds(academy: Academy) -> dict[str, float] | None:
    """Return the session SD by trait, or None where each player has their own."""
    return None if academy.spec.session_sd_follows_player else _rounded(session_sd())


def _rounded(values: dict[str, float]) -> dict[str, float]:
    return {t: round(v, DECIMALS + 2) for t, v in values.items()}


def _by_trait(values: Floats) -> dict[str, float]:
    return {t: round(float(v), DECIMALS) for t, v in zip(TRAITS, values, strict=True)}


def _player(academy: Academy, player_idx: int) -> Record:
    player, season = academy.players[player_idx], academy.season
    tendency = academy.tendencies[list(TRAITS)].to_numpy()
    effect = academy.session_effects[list(TRAITS)].to_numpy()
    return {
        "tier": player.tier,
        "handed": player.handed,
        "baseline": _by_trait(player.baseline),
        "shot_sd": _by_trait(player.shot_sd),
        "shot_correlation": np.round(player.shot_correlation, DECIMALS).tolist(),
        "e0_offset": round(player.e0_offset, DECIMALS + 2),
        "cg_height_offset_mm": round(player.cg_height_offset_mm, DECIMALS),
        "sessions": [
            {
                "session": season.dates[s].isoformat(),
                "strike_method": STRIKE_METHODS[season.strike_method[s]].name,
                "delivery_method": DELIVERY_METHODS[season.delivery_method[s]].name,
                "has_strike": bool(season.has_strike[s]),
                "has_ball": bool(season.has_ball[s]) and academy.spec.ball_data,
                "shots": int(season.shots[s]),
                "tendency": _by_trait(tendency[s]),
                "session_effect": _by_trait(effect[s]),
            }
            for s in season.of_player(player_idx)
        ],
    }
