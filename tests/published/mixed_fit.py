"""A mixed case through the product's own path, from shots to fit, with the case's prior scales."""

import numpy as np

from models.sampling import Effort, compile_model
from models.tendency import Form, TendencyPriors, build_tendency_model
from tests.published.mixed_cases import TRAIT, Case, Found
from tracker.dataset import squad_data
from tracker.fitting import sample_squad

EFFORT = Effort(draws=2000, tune=1000, target_accept=0.97)
"""A handful of groups wants smaller steps than a squad's season."""


def sampled(case: Case) -> Found:
    """Return what the product's model finds, with drift off, and days off where there are none."""
    squad = squad_data(
        case.shots,
        case.changes,
        traits=(TRAIT,),
        references=(case.reference,),
        reading_sds=case.reading_sds,
    )
    form = Form(drift=False, days="days" in case.parts)
    priors = TendencyPriors.from_table((case.prior,))
    compiled = compile_model(build_tendency_model(squad.model, priors, form))
    fit = sample_squad(compiled, squad, effort=EFFORT, seed=7, form=form)
    drills = fit.drills
    return Found(
        mean=fit.mu[:, 0],
        between=fit.spread[:, 0],
        session=fit.session_sd[:, 0],
        shot=np.sqrt((fit.shot_sd[..., 0] ** 2).mean(axis=1)),
        bias={name: fit.bias[:, m, 0] for m, name in enumerate(fit.methods[0]) if m},
        effect={name: fit.drill_effect[:, g, 0] for g, name in enumerate(drills)},
        effect_spread={name: fit.drill_spread[:, g, 0] for g, name in enumerate(drills)},
        own_effect={
            (c.player, c.name): fit.change_effect[:, i, 0] for i, c in enumerate(fit.changes)
        },
        failed_checks=len(fit.info.report.problems),
    )
