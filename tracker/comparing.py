"""Which assumptions of the model the squad's own sessions ask for, by leaving sessions out.

Every form is fitted to the same shots and asked for each session given the player's others. Loads
PyMC, as ``tracker.fitting`` does.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.held_out import FormScore, compared_forms, held_out_sessions
from models.sampling import Effort
from models.tendency import Form
from models.traits import MODELLED, TRAITS
from tracker.dataset import SquadData, squad_data
from tracker.errors import NotEnoughData
from tracker.fit_assembly import completed, steps
from tracker.fitting import (
    compile_squad,
    drawn_parameters,
    reading_sds_of,
    references_of,
)
from tracker.records import DEFAULT_CLUB, Change
from tracker.store import Store

Floats = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

FORMS: Final[Mapping[str, Form]] = MappingProxyType(
    {
        "days apart": Form(),
        "days alike": Form(alike=True),
        "no drift": Form(drift=False),
        "no day effects": Form(days=False),
    }
)
"""What is compared; ``days apart`` is the usual form of a fit."""

FEWEST_SESSIONS = 20
"""Player-sessions of a trait below which a comparison of forms is noise."""
CLEAR = 2.0
"""Standard errors by which a form must be ahead to be called better."""


@dataclass(frozen=True, slots=True)
class TraitComparison:
    """The forms for one trait, the best first, over ``sessions`` left-out sessions."""

    trait: str
    sessions: int
    scores: tuple[FormScore, ...]
    problems: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """Return what the comparison says, in words."""
        label = TRAITS[self.trait].label.capitalize()
        best, usual = self.scores[0], self._usual
        if best is usual or usual.behind < CLEAR * usual.behind_se:
            rivals = [s.form for s in self.scores if s.behind >= max(CLEAR * s.behind_se, 1e-9)]
            behind = f"; clearly behind: {', '.join(rivals)}" if rivals else ""
            return f"{label}: no form foretells sessions clearly better than days apart{behind}."
        remedy = " Fit with --days-alike." if best.form == "days alike" else ""
        return (
            f"{label}: {best.form} foretells left-out sessions better than days apart by "
            f"{usual.behind:.1f} (standard error {usual.behind_se:.1f}).{remedy}"
        )

    @property
    def asks_for_alike(self) -> bool:
        """Return whether days alike are clearly better than days apart."""
        usual = self._usual
        return self.scores[0].form == "days alike" and usual.behind >= CLEAR * usual.behind_se

    @property
    def _usual(self) -> FormScore:
        return next(s for s in self.scores if s.form == "days apart")


def compare_stored(
    store: Store,
    *,
    seed: int,
    effort: Effort | None = None,
    club: str = DEFAULT_CLUB,
    progress: Progress | None = None,
) -> tuple[TraitComparison, ...]:
    """Compare the forms on what is stored of a club; raise NotEnoughData when too little is."""
    return compare_forms(
        store.shots_frame(club=club),
        store.changes(),
        seed=seed,
        effort=effort,
        references=references_of(store),
        reading_sds=reading_sds_of(store),
        progress=progress,
    )


def compare_forms(
    shots: pd.DataFrame,
    changes: Sequence[Change],
    *,
    seed: int,
    effort: Effort | None = None,
    traits: Sequence[str] = MODELLED,
    references: Sequence[str] = (),
    reading_sds: Mapping[tuple[str, str], float] = MappingProxyType({}),
    progress: Progress | None = None,
) -> tuple[TraitComparison, ...]:
    """Return the comparison of every trait with enough sessions.

    Four fits, each compiled and sampled anew: minutes rather than seconds.
    """
    say = progress or (lambda phase, done, total: None)
    squad = squad_data(
        shots, changes, traits=traits, references=references, reading_sds=reading_sds
    )
    read = squad.readings.sum(axis=0) > 0
    sessions = read.sum(axis=(0, 1))
    if not (sessions >= FEWEST_SESSIONS).any():
        raise NotEnoughData(
            f"the forms of the model can be told apart from {FEWEST_SESSIONS} sessions on; at most "
            f"{sessions.max()} are stored with readings of one trait"
        )
    density, problems = {}, []
    for place, (name, form) in enumerate(FORMS.items()):
        say(f"fitting the form '{name}'", place, len(FORMS))
        density[name], report = _held_out(squad, form, seed, effort)
        problems += [f"{name}: {problem}" for problem in report]
    return tuple(
        TraitComparison(
            trait,
            int(sessions[k]),
            compared_forms({name: d[:, read[:, :, k], k] for name, d in density.items()}),
            tuple(problems),
        )
        for k, trait in enumerate(squad.model.traits)
        if sessions[k] >= FEWEST_SESSIONS
    )


def _held_out(
    squad: SquadData, form: Form, seed: int, effort: Effort | None
) -> tuple[Floats, tuple[str, ...]]:
    """Return log densities of left-out sessions under one form, and the fit's problems."""
    compiled = compile_squad(squad, form)
    drawn, report = drawn_parameters(compiled, squad, seed=seed, effort=effort, form=form)
    model, parameters = squad.model, completed(squad, drawn)
    density = held_out_sessions(
        parameters,
        count=model.count,
        mean=model.mean,
        gap=model.gap,
        reading_sd=model.reading_sd,
        step=steps(squad, parameters),
    )
    return density, report.problems
