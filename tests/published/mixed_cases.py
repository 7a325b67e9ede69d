"""Published mixed-model examples as squads: who stands for a player, a session, a method, a change.

Each case is shots and logged changes as the tracker takes them, prior scales in the data's own
unit, and the published estimates as functions of what a fit finds. ``mixed_estimates`` finds them
by restricted maximum likelihood on the same shots, so that a mapping is known to be right apart
from the product; ``posterior_rows`` takes any ``fit``.

Prior scales are two to four times the published SDs, and at least nine standard errors for effects
and biases; the drift is nil. So the posterior is that of the published model under weak priors, but
for players' own shot SDs, which the published models take as equal. ``parts`` names what a
published model has beside a level for each player and scatter about it; everything else (drift,
alike days, unlogged jumps) is not in it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal

import numpy as np
import pandas as pd

from models.arrays import Floats
from models.traits import MODELLED, Prior
from tests.published.anchor import Anchor
from tests.published.mixed_data import ERGO_STOOL, MACHINES, PENICILLIN, SLEEP
from tracker.records import Change

Part = Literal["days", "responders"]

TRAIT = "strike_up_mm"
"""The column that carries the data; its unit and the squad's own prior scales play no part."""

NO_READING_ERROR = 1e-6
FIRST_DAY = date(2026, 3, 1)

NEAR_SD = 1.0
"""Posterior SDs between the median of an SD and its REML estimate. With 6 to 24 groups the
posterior of an SD is skewed to the right and its half-normal prior pulls it back; the two together
stay inside one posterior SD."""

NEAR_MEAN = 0.3
"""Posterior SDs between the median of a mean, effect or bias and its estimate. All designs are
balanced, so that the estimate does not depend on the SDs; the rest is the prior's pull (below
.1) and simulation error (below .1)."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a fit finds, draws of shape ``(sample,)``; an estimate is one draw."""

    mean: Floats
    """Level of a typical player under the reference method."""
    between: Floats
    """SD of players' levels."""
    session: Floats
    """SD of sessions' own effects; 0 where the model has none."""
    shot: Floats
    """SD of one shot."""
    bias: Mapping[str, Floats]
    """Bias of each method but the reference."""
    effect: Mapping[str, Floats]
    """Mean effect of the changes of that name."""
    effect_spread: Mapping[str, Floats]
    """SD of the effect between players; 0 where all respond alike."""
    own_effect: Mapping[tuple[str, str], Floats]
    """Effect of a player's change of that name, by (player, name)."""
    failed_checks: int = 0


@dataclass(frozen=True, slots=True)
class Quantity:
    """A published estimate and how to read it from what was found."""

    name: str
    published: float
    read: Callable[[Found], Floats]
    rounding: float
    """What the restricted estimate may be off: half a unit of the last printed digit or more."""
    near: float
    """What a posterior median may be off, in posterior SDs."""


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A published example as a squad, with what is known of it.

    ``shots`` has ``player``, ``session``, ``handed``, ``strike_method``, ``delivery_method`` and
    the traits' columns, all empty but ``TRAIT``.
    """

    check: str
    source: str
    shots: pd.DataFrame
    changes: tuple[Change, ...]
    parts: frozenset[Part]
    prior: Prior
    quantities: tuple[Quantity, ...]
    reference: str = "one"
    """The method whose bias is 0."""
    players: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "players", tuple(sorted(set(self.shots["player"]))))

    @property
    def methods(self) -> tuple[str, ...]:
        """Return the methods' names, the reference first."""
        names = sorted(set(self.shots["strike_method"]))
        return (self.reference, *(n for n in names if n != self.reference))

    @property
    def reading_sds(self) -> dict[tuple[str, str], float]:
        """Return the reading SDs as ``squad_data`` takes them."""
        return {(TRAIT, method): NO_READING_ERROR for method in self.methods}


def estimate_rows(case: Case, found: Found) -> tuple[Anchor, ...]:
    """Return the case's rows for an estimate, as near as the published digits allow."""
    return tuple(
        Anchor(
            case.check, q.name, case.source, q.published, float(q.read(found)[0]), q.rounding
        )
        for q in case.quantities
    )  # fmt: skip


def posterior_rows(case: Case, fit: Callable[[Case], Found]) -> tuple[Anchor, ...]:
    """Return the case's rows for a fit: posterior medians near the published estimates."""
    found = fit(case)
    rows = []
    for q in case.quantities:
        draws = q.read(found)
        rows.append(
            Anchor(
                f"{case.check}, sampled", f"{q.name}, within {q.near:g} posterior SD", case.source,
                q.published, float(np.median(draws)), q.near * float(draws.std()),
            )
        )  # fmt: skip
    failed = Anchor(
        f"{case.check}, sampled",
        "failed checks of the sampler (divergences, R-hat, effective draws)",
        "Vehtari et al. 2021, Bayesian Analysis 16:667",
        0.0, float(found.failed_checks), 0.5,
    )  # fmt: skip
    return (*rows, failed)


Reading = tuple[str, int, str, float]
"""Player, day of the session, method, value."""


def _shots(readings: Iterable[Reading]) -> pd.DataFrame:
    """Return a shot log with one shot a reading."""
    player, day, method, value = zip(*readings, strict=True)
    frame = pd.DataFrame(dict.fromkeys(MODELLED, np.nan), index=range(len(value)))
    frame[TRAIT] = value
    frame["session"] = pd.Timestamp(FIRST_DAY) + pd.to_timedelta(np.array(day), unit="D")
    return frame.assign(
        player=player, handed="right", strike_method=method, delivery_method="radar"
    )


def _steps(players: Iterable[str], names: Sequence[str]) -> tuple[Change, ...]:
    """Return each player's changes: the first on day 1, the next on day 2 and so on."""
    return tuple(
        Change(player, FIRST_DAY + timedelta(days=day), "equipment", name, TRAIT)
        for player in players
        for day, name in enumerate(names, start=1)
    )


def _prior(
    mean: float,
    between: float,
    shot: float,
    *,
    session: float = 1.0,
    change: float = 1.0,
    bias: float = 1.0,
    unlike: float = 0.25,
) -> Prior:
    """Return prior scales in the data's unit; a typical level is known to 5 ``between``.

    ``unlike`` is how far players differ in log shot SD.
    """
    return Prior(
        mean=mean,
        mean_sd=5 * between,
        between_scale=between,
        shot_sd=shot,
        session_scale=session,
        drift_scale=1e-4 * shot,
        change_scale=change,
        bias_scale=bias,
        log_shot_sd_spread=unlike,
    )


def _names(prefix: str, count: int) -> list[str]:
    return [f"{prefix} {i:02d}" for i in range(1, count + 1)]


def _mean(name: str, published: float, rounding: float) -> Quantity:
    return Quantity(name, published, lambda f: f.mean, rounding, NEAR_MEAN)


def _between(name: str, published: float, rounding: float) -> Quantity:
    return Quantity(name, published, lambda f: f.between, rounding, NEAR_SD)


def _shot(name: str, published: float, rounding: float) -> Quantity:
    return Quantity(name, published, lambda f: f.shot, rounding, NEAR_SD)


def _bias(name: str, method: str, published: float) -> Quantity:
    return Quantity(name, published, lambda f: f.bias[method], 0.001, NEAR_MEAN)


def _effects(name: str, of: Sequence[str], published: float, near: float = NEAR_MEAN) -> Quantity:
    """Return the sum of the mean effects of changes, each made on top of the one before."""
    return Quantity(
        name, published, lambda f: np.sum([f.effect[c] for c in of], axis=0), 0.001, near
    )


MACHINES_SOURCE = "REML estimates in Pinheiro & Bates 2000, Mixed-Effects Models, sec. 1.3"


def machines() -> Case:
    """Machines: 6 workers on 3 machines, 3 scores on each, workers differing by machine.

    A worker stands for a player, a worker's turn on a machine for a session with its own effect, a
    score for a shot. What a machine adds for everybody is the bias of a reading method: the one
    effect that all players share.
    """
    workers = _names("worker", 6)
    readings = [
        (workers[w], m, "ABC"[m], y) for (m, w, _), y in np.ndenumerate(MACHINES)
    ]  # fmt: skip
    return Case(
        "Machines, by methods", MACHINES_SOURCE, _shots(readings), (),
        frozenset({"days"}),
        _prior(55, 10, 1, session=8, bias=25),
        (
            _mean("mean on machine A", 52.356, 0.001),
            _bias("machine B less A", "B", 7.967),
            _bias("machine C less A", "C", 13.917),
            _between("SD between workers", 4.781, 0.001),
            Quantity("SD between machines of one worker", 3.729, lambda f: f.session, 0.001,
                     NEAR_SD),
            _shot("residual SD", 0.9616, 0.0001),
        ),
        reference="A",
    )  # fmt: skip


def machines_as_changes() -> Case:
    """Machines once more: a worker goes from A to C to B, each move a change worth something else.

    In this order the workers' differences grow, as those of steps taken one after another do (SDs
    4.1, 4.4 and 8.6). Worker 6 loses 17.7 on going to B where the others lose 2.0 to 6.7. Heavy
    tails of the effect between players give that worker less say in the mean of the move than the
    published normal model does, and in its spread, so both may be off by two posterior SDs; the
    worker's own effect, known to .8 from six scores, must not be drawn to the rest by more than 1.
    The published SDs of the moves come from the model with any covariance between machines: SDs
    4.0793, 8.6253 and 4.3895, correlations .803, .623 and .771. Moves independent of each other
    and of the level have other REML estimates (3.65 and 5.92, residual .9631), near but not equal,
    which sets the rounding.
    """
    workers = _names("worker", 6)
    readings = [
        (workers[w], "ACB".index("ABC"[m]), "one", y) for (m, w, _), y in np.ndenumerate(MACHINES)
    ]  # fmt: skip
    sd = dict(zip("ABC", (4.0793, 8.6253, 4.3895), strict=True))

    def of_move(a: str, b: str, correlation: float) -> float:
        return float(np.sqrt(sd[a] ** 2 + sd[b] ** 2 - 2 * correlation * sd[a] * sd[b]))

    last = MACHINES[1, 5].mean() - MACHINES[2, 5].mean()
    return Case(
        "Machines, by changes", MACHINES_SOURCE, _shots(readings), _steps(workers, ("C", "B")),
        frozenset({"responders"}),
        _prior(55, 10, 1, change=20),
        (
            _mean("mean on machine A", 52.356, 0.001),
            _effects("machine C less A", ("C",), 13.917),
            _effects("machine B less A", ("C", "B"), 7.967, near=2.0),
            Quantity("SD between workers of the move from A to C", of_move("A", "C", 0.623),
                     lambda f: f.effect_spread["C"], 0.05, NEAR_SD),
            Quantity("SD between workers of the move from C to B", of_move("C", "B", 0.771),
                     lambda f: f.effect_spread["B"], 0.05, 2.0),
            Quantity("move from C to B of worker 6, raw means", float(last),
                     lambda f: f.own_effect[workers[5], "B"], 0.3, 1.0),
            _shot("residual SD", 0.9616, 0.002),
        ),
    )  # fmt: skip


def penicillin() -> Case:
    """Penicillin: 24 plates, 6 samples read on each; plates and samples are crossed.

    A plate stands for a player with one session, a sample for a reading method. Effects that all
    players share are biases, which are not pooled, so the SD between samples is not a parameter
    here. In a balanced design it follows exactly: the variance of the six biases less that of a
    sample's mean. The estimates of the other two SDs do not depend on whether samples are pooled.
    """
    plates = _names("plate", 24)
    readings = [(plates[p], 0, "ABCDEF"[s], y) for (p, s), y in np.ndenumerate(PENICILLIN)]

    def all_biases(found: Found) -> Floats:
        return np.stack([np.zeros_like(found.mean), *(found.bias[m] for m in "BCDEF")])

    def between_samples(found: Found) -> Floats:
        variance = all_biases(found).var(axis=0, ddof=1) - found.shot**2 / len(plates)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    return Case(
        "Penicillin, samples as methods",
        "REML estimates in Bates 2010, lme4: Mixed-effects modeling with R, ch. 2",
        _shots(readings), (), frozenset(), _prior(23, 2, 0.5, bias=10),
        (
            Quantity("mean diameter, mm", 22.9722,
                     lambda f: f.mean + all_biases(f).mean(axis=0), 0.0005, NEAR_MEAN),
            _between("SD between plates, mm", 0.8467, 0.0002),
            Quantity("SD between samples, mm", 1.9316, between_samples, 0.0002, NEAR_SD),
            _shot("residual SD, mm", 0.5499, 0.0002),
        ),
        reference="A",
    )  # fmt: skip


ERGO_SOURCE = "REML estimates in Pinheiro & Bates 2000, Mixed-Effects Models, sec. 1.2"
STOOLS = {"T2": 3.889, "T3": 2.222, "T4": 0.667}
"""Effort on a stool less that on T1."""


def ergo_stool() -> Case:
    """ergoStool: 9 subjects, effort to rise from each of 4 stools.

    A subject stands for a player with one session, a stool for a reading method.
    """
    subjects = _names("subject", 9)
    readings = [(subjects[s], 0, f"T{t + 1}", y) for (s, t), y in np.ndenumerate(ERGO_STOOL)]
    return Case(
        "ergoStool, by methods", ERGO_SOURCE, _shots(readings), (), frozenset(),
        _prior(10, 4, 1, bias=10, unlike=0.1),
        (
            _mean("mean on stool T1", 8.556, 0.001),
            *(_bias(f"stool {name} less T1", name, effect) for name, effect in STOOLS.items()),
            _between("SD between subjects", 1.332, 0.001),
            _shot("residual SD", 1.100, 0.001),
        ),
        reference="T1",
    )  # fmt: skip


def ergo_stool_as_changes() -> Case:
    """ergoStool once more: each stool a logged change that stays, in the order T1 to T4.

    A change lasts, so that stool T3 is worth the effect of "T2" and that of "T3" on top of it. All
    subjects answer alike, as in the published model. Four readings tell little of a subject's own
    scatter, so subjects are taken as nearly alike in it; what weights are left lets the effects be
    off by half a posterior SD.
    """
    subjects = _names("subject", 9)
    readings = [(subjects[s], t, "one", y) for (s, t), y in np.ndenumerate(ERGO_STOOL)]
    names = tuple(STOOLS)
    return Case(
        "ergoStool, by changes", ERGO_SOURCE, _shots(readings), _steps(subjects, names),
        frozenset(), _prior(10, 4, 1, change=5, unlike=0.1),
        (
            _mean("mean on stool T1", 8.556, 0.001),
            *(_effects(f"stool {name} less T1", names[: i + 1], STOOLS[name], near=0.5)
              for i, name in enumerate(names)),
            _between("SD between subjects", 1.332, 0.001),
            _shot("residual SD", 1.100, 0.001),
        ),
    )  # fmt: skip


SLEEP_SOURCE = "REML estimates by lme4, Bates et al. 2015, J. Stat. Softw. 67:1 (sleepstudy)"
SLEEP_SLOPE = 10.46729
"""Mean slope, ms a day."""

SLEEP_DAYS = np.arange(10.0)
SLEEP_SQUARES = float(((SLEEP_DAYS - SLEEP_DAYS.mean()) ** 2).sum())


def sleep_trend_removed() -> Case:
    """sleepstudy with one slope for all, taken out beforehand: Reaction ~ Days + (1 | Subject).

    The model's levels move by a walk and by steps, not along straight lines of different slopes, so
    the published random slopes do not map. What does is the model with a common trend, a day
    standing for a session of one reading. The slope counts as known, which lowers the residual SD
    by one degree of freedom in 162: from 30.991 to 30.895.
    """
    subjects = _names("subject", 18)
    readings = [
        (subjects[s], d, "one", y - SLEEP_SLOPE * d) for (s, d), y in np.ndenumerate(SLEEP)
    ]  # fmt: skip
    return Case(
        "sleepstudy, common trend removed", SLEEP_SOURCE, _shots(readings), (),
        frozenset(), _prior(250, 80, 30),
        (
            _mean("mean on day 0, ms", 251.405, 0.002),
            _between("SD between subjects, ms", 37.124, 0.02),
            Quantity("residual SD, ms", 30.991, lambda f: np.hypot(f.shot, f.session), 0.12,
                     NEAR_SD),
        ),
    )  # fmt: skip


def _sleep_coefficients(which: Literal["intercept", "slope"]) -> tuple[Floats, float]:
    """Return every subject's least-squares coefficient, (subject,), and what sigma is worth in it.

    The second is the coefficient's standard error where the residual SD is 1.
    """
    slope, intercept = np.polyfit(SLEEP_DAYS, SLEEP.T, 1)
    if which == "slope":
        return slope, SLEEP_SQUARES**-0.5
    return intercept, (1 / SLEEP_DAYS.size + SLEEP_DAYS.mean() ** 2 / SLEEP_SQUARES) ** 0.5


def _sleep_coefficient(
    which: Literal["intercept", "slope"], unit: str, mean: float, sd: float, prior: Prior
) -> Case:
    """Return a coefficient as a player's mean of nine shots that hold what the data say of it.

    Nine shots leave the 8 degrees of freedom of a subject's regression. Their scatter makes the
    mean's error that of the coefficient, and is the pooled one in every subject.
    """
    values, unit_error = _sleep_coefficients(which)
    fitted = np.stack([np.polyval(c, SLEEP_DAYS) for c in np.polyfit(SLEEP_DAYS, SLEEP.T, 1).T])
    freedom = SLEEP.size - 2 * len(SLEEP)
    shots = SLEEP_DAYS.size - 1
    sigma = (((SLEEP - fitted) ** 2).sum() / freedom) ** 0.5
    places = np.linspace(-1.0, 1.0, shots)
    places *= sigma * unit_error * shots**0.5 / places.std(ddof=1)
    subjects = _names("subject", len(SLEEP))
    readings = [
        (name, 0, "one", float(value + place))
        for name, value in zip(subjects, values, strict=True) for place in places
    ]  # fmt: skip
    return Case(
        f"sleepstudy, {which}s of the subjects", SLEEP_SOURCE, _shots(readings), (), frozenset(),
        prior,
        (
            _mean(f"mean {which}, {unit}", mean, 0.001),
            _between(f"SD between subjects of the {which}, {unit}", sd, 0.002),
            Quantity("residual SD, ms", 25.592,
                     lambda f: f.shot / (unit_error * shots**0.5), 0.001, NEAR_SD),
        ),
    )  # fmt: skip


def sleep_slopes() -> Case:
    """sleepstudy's random slopes, Reaction ~ Days + (Days | Subject), from each subject's own.

    All subjects have the same days, so that the least-squares slopes and the pooled scatter hold
    all that the data say of mean slope, its SD and the residual SD.
    """
    return _sleep_coefficient("slope", "ms a day", 10.467, 5.922, _prior(10, 15, 8))


def sleep_intercepts() -> Case:
    """sleepstudy's random intercepts, likewise. Their correlation with the slopes has no place."""
    return _sleep_coefficient("intercept", "ms", 251.405, 24.741, _prior(250, 60, 45))


CASES = (
    machines,
    machines_as_changes,
    penicillin,
    ergo_stool,
    ergo_stool_as_changes,
    sleep_trend_removed,
    sleep_slopes,
    sleep_intercepts,
)
