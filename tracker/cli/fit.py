"""The command that estimates: fit."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    err,
    out,
    print_json,
    refusals,
    warn_of_problems,
)
from tracker.cli.stored import name_stuck, open_store
from tracker.decisions.checks.predictive import consequences
from tracker.fit_info import part_label
from tracker.fits.kept_fits import kept_checks
from tracker.readings.stuck_device import stuck_readings
from tracker.records import DEFAULT_CLUB
from tracker.store.store import Store

if TYPE_CHECKING:
    from tracker.fits.fitting import KeptFit


def fit(
    seed: Annotated[int, typer.Option("--seed", help="Same data and seed, same draws.")] = 1,
    draws: Annotated[
        int | None,
        typer.Option("--draws", min=50, help="Draws a chain; as a rule the default is enough."),
    ] = None,
    chains: Annotated[int, typer.Option("--chains", min=2, help="Independent chains.")] = 4,
    reference: Annotated[
        list[str] | None,
        typer.Option(
            "--reference",
            metavar="METHOD",
            help="Reading method taken as unbiased; repeatable, remembered.",
        ),
    ] = None,
    club: ClubOption = DEFAULT_CLUB,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Estimate every player's tendencies from all stored shots with a club."""
    with refusals(), open_store(db) as store:
        stuck = stuck_readings(store.shots_frame(club=club))
        name_stuck(stuck)
        kept = run_fit(
            store, seed=seed, draws=draws, chains=chains, references=reference, club=club
        )
        info, checks = kept.fit.info, kept_checks(store, kept.fit_id)
        report = info.report
        odd = consequences(c for c in checks if c.wants_care)
        if as_json:
            print_json(
                {
                    "fit_id": kept.fit_id,
                    "players": len(kept.fit.players),
                    "sessions": kept.sessions,
                    "shots": kept.shots,
                    "seconds": kept.fit.info.seconds,
                    "club": club,
                    "report": report.as_json(),
                    "reports": {part: r.as_json() for part, r in info.reports.items()},
                    "checks": [asdict(c) for c in checks],
                    "stuck": [s.as_json() for s in stuck],
                }
            )
            return
        warn_of_problems(kept.fit.problems)
        out.print(
            f"Fit {kept.fit_id}: {len(kept.fit.players)} players, {kept.sessions} sessions, "
            f"{kept.shots} shots in {kept.fit.info.seconds:.0f} s. "
            f"Divergent draws {report.divergences}, largest R-hat {report.max_rhat:.3f}, "
            f"fewest effective draws {report.min_ess:.0f}."
        )
        for part, one in info.reports.items():
            if one.attempts > 1:
                out.print(f"{part_label(part)} was {attempts_words(one.attempts)}.")
        for line in odd:
            out.print(f"Unlike the model's own sessions: {line}.")


def attempts_words(attempts: int) -> str:
    """Return how often a part of a fit was sampled, in words."""
    often = {2: "twice", 3: "three times"}.get(attempts, f"{attempts} times")
    return f"sampled {often}, with smaller steps"


def run_fit(
    store: Store,
    *,
    seed: int = 1,
    draws: int | None = None,
    chains: int = 4,
    references: list[str] | None = None,
    club: str = DEFAULT_CLUB,
) -> "KeptFit":
    """Fit what is stored with a progress bar on standard error."""
    with progress_bar() as say:
        say("loading the sampler", 0, 0)
        from models.sampling.sampler import Effort
        from tracker.fits.fitting import FitRequest, fit_and_keep

        effort = Effort(chains=chains) if draws is None else Effort(draws=draws, chains=chains)
        named = None if references is None else tuple(references)
        return fit_and_keep(store, FitRequest(seed, effort, named, club), say)


@contextmanager
def progress_bar() -> Iterator[Callable[[str, int, int], None]]:
    """Show a bar on standard error; yield how to move it: phase, steps done, steps in all."""
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=err, transient=True) as bar:
        task = bar.add_task("starting", total=None)

        def say(phase: str, done: int, total: int) -> None:
            known = total > 1
            bar.update(task, description=phase, completed=done if known else 0)
            bar.update(task, total=total if known else None)

        yield say
