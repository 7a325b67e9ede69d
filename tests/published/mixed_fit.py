"""A mixed case through the product's own path, from shots to draws, with the case's prior scales.

What a published model has not is left out: drift, alike days, unlogged changes, days of their own
where a case has none, and players' own answers to a change likewise. Where they do answer, by one
SD for all changes in the product, a change's own spread is that of its players' effects.
"""

import numpy as np

from models.sampling.sampler import Effort
from models.tendency.data import trait_series
from tests.published.mixed_cases import TRAIT, Case, Found
from tests.reference.one_trait import ALIKE, STEADY_LEVELS, UNLOGGED, sampled_trait
from tracker.fits.dataset import squad_data

EFFORT = Effort(draws=2000, tune=1000, target_accept=0.97, doublings=3)
"""A handful of groups wants smaller steps than a squad's season."""
ABSENT = ALIKE | UNLOGGED | STEADY_LEVELS


def sampled(case: Case) -> Found:
    """Return what the product's model finds."""
    squad = squad_data(
        case.shots,
        case.changes,
        traits=(TRAIT,),
        references=(case.reference,),
        reading_sds=case.reading_sds,
    )
    without = set(ABSENT)
    if "days" not in case.parts:
        without.add("session_sd")
    if "responders" not in case.parts:
        without.add("effect_sd")
    series = trait_series(squad.model, 0, case.prior)
    found = sampled_trait(series, case.prior, EFFORT, 7, without=frozenset(without))
    draws, hidden = found.draws, found.hidden
    changes = [squad.changes[int(squad.model.effect_change[e])] for e in series.effect]
    effect, spread = {}, {}
    for i, g in enumerate(series.groups):
        name = squad.change_names[squad.group_name[g]]
        own = hidden.effect[:, [c.name == name for c in changes]]
        effect[name] = draws["group_effect"][:, i]
        spread[name] = own.std(axis=1, ddof=1)
    return Found(
        mean=draws["mu"],
        between=draws["spread"],
        session=draws.get("session_sd", np.zeros(len(draws["mu"]))),
        shot=np.sqrt((hidden.shot_sd**2).mean(axis=1)),
        bias={name: draws["bias"][:, m - 1] for m, name in enumerate(squad.methods[0]) if m},
        effect=effect,
        effect_spread=spread,
        own_effect={(c.player, c.name): hidden.effect[:, i] for i, c in enumerate(changes)},
        failed_checks=len(found.report.problems),
    )
