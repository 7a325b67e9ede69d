"""A squad of any size with known sizes of everything: single shots, or their summaries at once."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.arrays import Floats
from models.tendency.data import TendencyData
from models.traits import TRAITS

METHODS = {"strike": "photo", "delivery": "radar"}
FIRST_MOMENT = np.datetime64("2025-01-06T10:00:00")


@dataclass(frozen=True, slots=True)
class Size:
    """How much there is: players, sessions a player, shots a session, and which traits."""

    players: int
    sessions: int
    shots: int
    traits: tuple[str, ...] = ("strike_toe_mm", "strike_up_mm", "attack_deg")

    @property
    def words(self) -> str:
        return f"{self.players} x {self.sessions} x {self.shots}, {len(self.traits)} traits"


@dataclass(frozen=True, eq=False)
class Truth:
    """What the squad is like: session means (player, session, trait), shot SDs (player, trait)."""

    session_mean: Floats
    shot_sd: Floats
    reading_sd: Floats
    gap: Floats


def reading_sds(traits: tuple[str, ...]) -> Floats:
    return np.array([TRAITS[t].default_reading_sd(METHODS[TRAITS[t].group]) for t in traits])


def invented(size: Size, rng: np.random.Generator) -> Truth:
    """Levels walk between weekly sessions, sessions have effects, players differ in scatter."""
    priors = [TRAITS[t].prior for t in size.traits]
    usual = np.array([p.shot_sd for p in priors])
    shape = (size.players, size.sessions, len(priors))
    gap = np.concatenate(
        [np.zeros((size.players, 1)), rng.integers(4, 11, shape[:2])[:, 1:] / 7], axis=1
    )
    walk = np.cumsum(np.sqrt(gap)[..., None] * rng.normal(0, 0.05 * usual, shape), axis=1)
    baseline = rng.normal([p.mean for p in priors], [0.6 * p.between_scale for p in priors],
                          (size.players, len(priors)))  # fmt: skip
    days = rng.normal(0, 0.25 * usual, shape)
    shot_sd = usual * np.exp(rng.normal(0, 0.2, (size.players, len(priors))))
    return Truth(baseline[:, None] + walk + days, shot_sd, reading_sds(size.traits), gap)


def shot_values(truth: Truth, shots: int, rng: np.random.Generator) -> Floats:
    """Readings, (player, session, shot, trait)."""
    sd = np.sqrt(truth.shot_sd**2 + truth.reading_sd**2)[:, None, None]
    players, sessions, traits = truth.session_mean.shape
    noise = rng.standard_normal((players, sessions, shots, traits))
    return truth.session_mean[:, :, None] + sd * noise


def weeks(truth: Truth) -> Floats:
    return np.cumsum(truth.gap, axis=1)


def shot_table(truth: Truth, values: Floats, traits: tuple[str, ...]) -> pd.DataFrame:
    """The same readings as the store hands them to a fit, one row a shot."""
    players, sessions, shots, _ = values.shape
    seconds = np.round(weeks(truth) * 7 * 86400).astype("timedelta64[s]")
    names = np.array([f"P{p:04d}" for p in range(players)])
    table = pd.DataFrame(
        {
            "player": np.repeat(names, sessions * shots),
            "session": np.repeat((FIRST_MOMENT + seconds).ravel(), shots),
            "handed": "right",
            "strike_method": METHODS["strike"],
            "delivery_method": METHODS["delivery"],
        }
    )
    for k, trait in enumerate(traits):
        table[trait] = values[..., k].ravel()
    return table


def summaries(size: Size, rng: np.random.Generator) -> TendencyData:
    """The session summaries of such a squad without its shots: means normal, scatter chi-square."""
    truth = invented(size, rng)
    variance = truth.shot_sd**2 + truth.reading_sd**2
    noise = rng.normal(0, np.sqrt(variance / size.shots)[:, None], truth.session_mean.shape)
    freedom = np.full(variance.shape, float(size.sessions * (size.shots - 1)))
    pairs = len(size.traits) * (len(size.traits) - 1) // 2
    none = np.array([], dtype=np.int64)
    return TendencyData(
        players=tuple(f"P{p:04d}" for p in range(size.players)),
        traits=size.traits,
        week=weeks(truth),
        gap=truth.gap,
        count=np.full((1, *truth.session_mean.shape), float(size.shots)),
        mean=(truth.session_mean + noise)[None],
        scatter=(variance * rng.chisquare(freedom))[None],
        scatter_df=freedom[None],
        reading_sd=truth.reading_sd[None],
        change_player=none,
        change_week=np.array([]),
        effect_change=none,
        effect_trait=none,
        effect_group=none,
        group_trait=none,
        pair_z=rng.normal(0, 0.15, (size.players, pairs)),
        pair_variance=np.full((size.players, pairs), 1 / (freedom[0, 0] - 2)),
        missed=np.zeros(size.players),
        strike_mean=np.zeros((size.players, 2)),
    )
