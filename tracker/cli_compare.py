"""The command that says which assumptions of the model the sessions ask for."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.cli_common import (
    ClubOption,
    DbOption,
    JsonOption,
    open_store,
    out,
    plain_table,
    print_json,
    progress_bar,
    refusals,
    warn_of_problems,
)
from tracker.records import DEFAULT_CLUB


def compare(
    seed: Annotated[int, typer.Option("--seed", help="Same data and seed, same answer.")] = 1,
    draws: Annotated[int, typer.Option("--draws", min=50, help="Draws a chain.")] = 1000,
    club: ClubOption = DEFAULT_CLUB,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare forms of the model by how well they foretell sessions left out (some minutes)."""
    with refusals(), open_store(db) as store, progress_bar() as say:
        say("loading the sampler", 0, 0)
        from models.sampling import Effort
        from tracker.comparing import compare_stored

        found = compare_stored(
            store, seed=seed, effort=Effort(draws=draws), club=club, progress=say
        )
    if as_json:
        print_json({"club": club, "traits": [_comparison_json(c) for c in found]})
        return
    warn_of_problems(found[0].problems)
    out.print("How well each form foretells a session left out, in log units. Higher is better.")
    table = plain_table("trait", "form", "behind the best", "standard error", "weight", "unsure")
    for comparison in found:
        for place, score in enumerate(comparison.scores):
            table.add_row(
                "" if place else TRAITS[comparison.trait].label,
                score.form,
                f"{score.behind:.1f}",
                f"{score.behind_se:.1f}",
                f"{score.weight:.2f}",
                f"{score.unsure} of {comparison.sessions}",
            )
    out.print(table)
    for comparison in found:
        out.print(comparison.sentence)


def _comparison_json(found: Any) -> Mapping[str, Any]:
    return {
        "trait": found.trait,
        "sessions": found.sessions,
        "forms": [
            {
                "form": s.form,
                "elpd": s.elpd,
                "behind": s.behind,
                "behind_se": s.behind_se,
                "weight": s.weight,
                "unsure_sessions": s.unsure,
            }
            for s in found.scores
        ],
        "asks_for_days_alike": found.asks_for_alike,
        "words": found.sentence,
        "problems": list(found.problems),
    }
