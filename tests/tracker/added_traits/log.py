"""A small invented shot log, whose later sessions hold two traits that the table does not know."""

from datetime import date, timedelta

import numpy as np

FIRST_DAY = date(2026, 1, 5)
EARLIER, SESSIONS, SHOTS = 2, 10, 10
"""Sessions before anybody read the new traits, all sessions, and shots in each."""
NEW_FROM = 6
"""Session at which the logged changes begin."""
OLD = ("strike_toe_mm", "strike_up_mm", "attack_deg", "club_speed_mps")
NEW = ("invented_ratio", "invented_deg")
SHOT_SD = {
    "strike_toe_mm": 8.0, "strike_up_mm": 6.0, "attack_deg": 1.0, "club_speed_mps": 0.6,
    "invented_ratio": 0.15, "invented_deg": 3.0,
}  # fmt: skip
LEVELS = {
    "Alder": (2.0, -6.0, -2.0, 44.0, 2.8, 80.0),
    "Birch": (-4.0, 1.0, 0.5, 41.0, 3.1, 88.0),
    "Cedar": (5.0, 4.0, -3.5, 46.0, 3.4, 95.0),
    "Elm": (0.0, -2.0, 1.0, 48.0, 3.4, 101.0),
    "Hazel": (3.0, -9.0, -1.0, 39.0, 2.6, 84.0),
    "Rowan": (-7.0, 2.0, -2.5, 43.0, 3.2, 92.0),
}
DRILLS = {"invented_ratio": "count to three", "invented_deg": "wider turn"}
CHANGED = {
    ("Birch", "invented_ratio"): 0.4,
    ("Cedar", "invented_ratio"): 0.6,
    ("Rowan", "invented_ratio"): 0.5,
    ("Alder", "invented_deg"): 12.0,
    ("Elm", "invented_deg"): 9.0,
    ("Hazel", "invented_deg"): 10.0,
}
"""How far a player's trait moved, once for all, with the drill."""


def day(session: int) -> date:
    return FIRST_DAY + timedelta(weeks=session)


def shot_log(sessions: range, traits: tuple[str, ...]) -> bytes:
    rng = np.random.default_rng(7)
    lines = [",".join(("player", "session", "shot", "strike_method", "delivery_method", *traits))]
    for player, levels in LEVELS.items():
        for s in range(SESSIONS):
            days = rng.normal(size=len(levels))
            shots = rng.normal(size=(SHOTS, len(levels)))
            for n in range(SHOTS):
                values = dict(zip((*OLD, *NEW), levels, strict=True))
                cells = []
                for k, (trait, level) in enumerate(values.items()):
                    moved = CHANGED.get((player, trait), 0.0) if s >= NEW_FROM else 0.0
                    spread = SHOT_SD[trait] * (0.3 * days[k] + shots[n, k])
                    if trait in traits:
                        cells.append(f"{level + moved + spread:.3f}")
                if s in sessions:
                    lines.append(
                        ",".join((player, str(day(s)), str(n + 1), "photo", "radar", *cells))
                    )
    return "\n".join(lines).encode()


def change_log() -> bytes:
    lines = ["player,start,kind,name,trait"]
    for player, trait in CHANGED:
        lines.append(f"{player},{day(NEW_FROM)},drill,{DRILLS[trait]},{trait}")
    return "\n".join(lines).encode()
