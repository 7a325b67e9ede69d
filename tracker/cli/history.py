"""The command that lists every kept fit, and what changed from one to the next and why."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tracker.as_json import fields_json
from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    UnitsOption,
    err,
    out,
    plain_table,
    print_json,
    print_rows,
    refusals,
    system_named,
)
from tracker.cli.stored import open_store
from tracker.errors import UnreadableFit
from tracker.fits.kept_fits import fit_of_row, latest_fit
from tracker.records import DEFAULT_CLUB
from tracker.store.rows import FitSummary
from tracker.store.store import Store
from tracker.units import System

if TYPE_CHECKING:
    from tracker.decisions.history_of_fits import FitsCompared

MEGABYTE = 1e6


def history(
    compare: Annotated[
        int,
        typer.Option(
            "--compare",
            metavar="N",
            min=0,
            help="How many pairs of neighbouring fits to compare, the newest first; each takes "
            "some seconds for a squad.",
        ),
    ] = 3,
    keep: Annotated[
        int | None,
        typer.Option(
            "--keep",
            metavar="N",
            help="Remove all but the newest N fits of every club for good; without it every fit "
            "is kept.",
        ),
    ] = None,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """List every kept fit, and what changed from one to the next and why."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        removed = store.prune_fits(keep) if keep is not None else ()
        fits = [f for f in store.fits() if f.club == club]
        if not fits:
            latest_fit(store, club)  # which says what to do first
        if as_json:
            rows, between = [_fit_json(f) for f in fits], _between_json(store, fits, compare)
            print_json({"fits": rows, "between": between, "removed": list(removed)})
            return
        if removed:
            err.print(f"Removed for good: {len(removed)} fits.")
        _print_fits(fits)
        _print_between(store, fits, compare, system)


def _fit_json(fit: FitSummary) -> Mapping[str, Any]:
    return {
        "fit_id": fit.id,
        "created_at": fit.created_at.isoformat(timespec="seconds"),
        **fields_json(fit, "club players sessions shots data_digest seed versions"),
        "problems": list(fit.report.get("problems", ())),
        "bytes": fit.size,
    }


def _print_fits(fits: Sequence[FitSummary]) -> None:
    table = plain_table(
        "fit", "made (UTC)", "players", "sessions", "shots", "data", "version", "seed", "checks"
    )
    for f in fits:
        table.add_row(
            str(f.id),
            f"{f.created_at:%Y-%m-%d %H:%M}",
            str(f.players),
            str(f.sessions),
            str(f.shots),
            f.data_digest[:8],
            str(f.versions.get("drive-progress", "")),
            str(f.seed),
            "in doubt" if f.report.get("problems") else "passed",
        )
    out.print(table)
    size = sum(f.size for f in fits) / MEGABYTE
    out.print(
        f"{len(fits)} {'fit' if len(fits) == 1 else 'fits'} kept, {size:.0f} MB; the same letters "
        "under data mean the same shots and changes. Every command that answers from a fit takes "
        "--as-of DATE."
    )


def _between(
    store: Store, fits: Sequence[FitSummary], most: int
) -> "Iterator[tuple[FitSummary, FitSummary, FitsCompared | UnreadableFit]]":
    """Yield neighbours compared, the newest pair first, or why a pair cannot be."""
    from tracker.decisions.history_of_fits import compared

    for after, before in list(pairwise(fits))[:most]:
        try:
            old, new = (fit_of_row(store.load_fit(f.id)) for f in (before, after))
            yield before, after, compared(old, new)
        except UnreadableFit as error:
            yield before, after, error


def _between_json(store: Store, fits: Sequence[FitSummary], most: int) -> list[Mapping[str, Any]]:
    from tracker.decisions.history_words import compared_json

    return [
        {"from": before.id, "to": after.id, "refused": str(found)}
        if isinstance(found, UnreadableFit)
        else compared_json(found)
        for before, after, found in _between(store, fits, most)
    ]


def _print_between(store: Store, fits: Sequence[FitSummary], most: int, system: System) -> None:
    from tracker.decisions.history_words import (
        MOVE_COLUMNS,
        cause_sentences,
        move_row,
        moves_sentence,
    )

    for before, after, found in _between(store, fits, most):
        out.print(f"\nFrom fit {before.id} to fit {after.id}", style="bold")
        if isinstance(found, UnreadableFit):
            out.print(f"  Not compared: {found}")
            continue
        for sentence in (*cause_sentences(found, system), moves_sentence(found)):
            out.print(f"  {sentence}")
        rows = [dict(zip(MOVE_COLUMNS, move_row(m, system), strict=True)) for m in found.levels]
        if rows:
            print_rows(rows, False, frozenset({"That day, seen now"}))
