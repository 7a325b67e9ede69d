"""The loading page: bring a file in, see every problem of it at once, take the last load back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Literal, cast

import streamlit as st

from tracker import files
from tracker.decisions.promises.promise_words import without_sentences
from tracker.errors import FileRefused, RowProblem, TrackerError
from tracker.fits import background
from tracker.fits.kept_promises import Promised, logged_with_promises
from tracker.lesson.session import SOURCE as LIVE
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.callings import Callings
from tracker.pages.shared.phrases import counted
from tracker.plain import line
from tracker.store.loading import LoadReport, load_changes, load_shots
from tracker.store.rows import FitSummary, ImportBatch, OnConflict
from tracker.store.store import Store

PROBLEM_COLUMNS = ("Line", "Column", "Found", "Wanted")
LOAD_COLUMNS = ("Loaded (UTC)", "From", "New", "Stored before", "Replaced")

EXAMPLE = Path(files.__path__[0]) / "example_shots.csv"
"""A small shot log of invented players, for whoever has none at hand."""
SHOWN = 10
LESSON_PAUSE = timedelta(hours=1)
"""From this long a pause on, a live shot belongs to another lesson."""

FileKind = Literal["shots", "changes"]

CONFLICTS: dict[str, str] = {
    "refuse": "refuse the file and list them",
    "replace": "take the file's readings",
    "append": "add them as further shots of that day",
}


@dataclass(frozen=True, slots=True)
class LoadView:
    """What one load came to: a sentence, what was wrong, and the bad rows to take away."""

    headline: str
    lead: str
    stored: bool
    problems: tuple[RowProblem, ...] = ()
    rejected: bytes | None = None
    file_name: str = ""
    stuck: tuple[str, ...] = ()
    """A sentence for each session's readings that a stuck device gave."""
    look_alike: tuple[str, ...] = ()
    """A sentence for each player whose name looks like another's."""
    not_promised: tuple[str, ...] = ()
    """Of which new changes nothing is promised, and why."""


def load_view(
    store: Store,
    content: bytes,
    file_name: str,
    kind: FileKind,
    *,
    today: date,
    skip_bad: bool = False,
    on_conflict: OnConflict = "refuse",
) -> LoadView:
    """Bring a file's rows into the store and return what to say of it."""
    promised = Promised()
    try:
        if kind == "changes":
            afresh = on_conflict == "replace"
            report, promised = logged_with_promises(
                store, lambda: load_changes(store, content, replace=afresh, today=today)
            )
        else:
            report = load_shots(
                store,
                content,
                skip_bad=skip_bad,
                on_conflict=on_conflict,
                today=today,
                name=file_name,
            )
    except FileRefused as error:
        problems = error.problems
        return LoadView(_refused(file_name), error.summary, stored=False, problems=problems)
    except TrackerError as error:
        return LoadView(_refused(file_name), str(error), stored=False)
    return LoadView(
        headline=f"{counted(report.stored, 'new ' + kind.removesuffix('s'))} stored.",
        lead=_what_became(report, kind, len(promised.kept)),
        stored=True,
        problems=report.rejected,
        rejected=report.rejected_csv,
        file_name=file_name,
        stuck=tuple(found.sentence for found in report.stuck),
        look_alike=tuple(found.sentence for found in report.look_alike),
        not_promised=without_sentences(promised.without),
    )


def _refused(file_name: str) -> str:
    return f"{file_name} was refused; nothing was stored."


def _what_became(report: LoadReport, kind: FileKind, promised: int) -> str:
    one = kind.removesuffix("s")
    parts = [f"{counted(report.rows, 'row')} read"]
    if report.already_stored:
        parts.append(f"{counted(report.already_stored, one)} stored before")
    if report.replaced:
        parts.append(f"{counted(report.replaced, one)} replaced")
    if report.rejected:
        lines = {problem.line for problem in report.rejected}
        parts.append(f"{counted(len(lines), 'bad row')} left out")
    if promised:
        parts.append(f"{counted(promised, 'promise')} kept")
    changed = report.stored or report.replaced
    return ", ".join(parts) + (". Now fit again." if changed else ".")


def page() -> None:
    """Show the loading page."""
    opened = opening.open_store()
    if opened is None:
        return
    url, store = opened
    place = st.container()
    loaded = _ask(store)
    latest = context.latest_fit(store)
    opening.side_bar(url, store, latest)
    fit = context.readable_fit(context.FitKey(url, latest.id)) if latest else None
    called = context.callings(store, *(() if fit is None else (fit,)))
    address.settle("Load")
    with place:
        if loaded is None:
            drawing.title("Load a shot log.")
            _next(url, store, latest)
            st.markdown(
                "One row a shot, in a CSV file: `player`, `session` (a date) and what was read, "
                "such as `strike_toe_mm`, `strike_up_mm`, `attack_deg`, `club_speed_mph`. The "
                "end of a column's name is its unit. A file with a bad row is refused whole, "
                "with every problem listed."
            )
        else:
            render(called_so(loaded, called))
            if loaded.stored:
                _next(url, store, latest)
    _loads(store, called)


def what_next(shots: int, *, fitted: bool, fitting: bool) -> str:
    """Return where a newcomer goes from here, by what is stored and fitted."""
    if not shots:
        return (
            "New here? Take the example file, choose it below and press Load. Then fit it, and the "
            "Coach page answers."
        )
    if fitting:
        return "The fit is under way; once it is done, the Coach page answers."
    if not fitted:
        return "Shots are stored. Now fit them; once that is done, the Coach page answers."
    return "The Coach page answers from the latest fit."


def _next(url: str, store: Store, latest: FitSummary | None) -> None:
    """Say where to go from here, with the button that it takes."""
    shots, now = store.rows_by_table()["shot"], background.progress(store)
    fitting = now is not None and now.active
    drawing.say(what_next(shots, fitted=latest is not None, fitting=fitting))
    if not shots:
        st.download_button(
            "Take the example file (CSV)",
            EXAMPLE.read_bytes(),
            file_name=EXAMPLE.name,
            mime="text/csv",
            on_click="ignore",
        )
    elif latest is None and not fitting and st.button("Fit these shots", type="primary"):
        background.start_fit(store, url)
        st.rerun()


def called_so(view: LoadView, called: Callings) -> LoadView:
    """Return what to say of a load with the players called as the pages call them."""

    def said(sentences: Sequence[str]) -> tuple[str, ...]:
        return tuple(map(called.in_text, sentences))

    return replace(
        view,
        headline=(called.in_text if view.stored else called.in_file_name)(view.headline),
        lead=called.in_text(view.lead),
        problems=tuple(
            replace(p, found=called.in_text(p.found), wanted=called.in_text(p.wanted))
            for p in view.problems
        ),
        file_name=called.in_file_name(view.file_name),
        stuck=said(view.stuck),
        look_alike=said(view.look_alike),
        not_promised=said(view.not_promised),
    )


def render(view: LoadView) -> None:
    """Draw what one load came to."""
    drawing.answer(view.headline, view.lead)
    for sentence in view.look_alike[:SHOWN]:
        st.text(sentence)
    for sentence in view.stuck[:SHOWN]:
        st.text(line(sentence))
    if len(view.stuck) > SHOWN:
        st.text(f"and {len(view.stuck) - SHOWN} more such.")
    for sentence in view.not_promised:
        st.text(sentence)
    if view.problems:
        rows = [(_line(p), p.column, p.found, p.wanted) for p in view.problems]
        drawing.table(PROBLEM_COLUMNS, rows, "")
    if view.rejected is not None:
        st.download_button(
            "Take the bad rows away to mend them",
            view.rejected,
            file_name=f"{view.file_name}.rejected.csv",
            mime="text/csv",
        )


def _line(problem: RowProblem) -> str:
    return str(problem.line) if problem.line else "whole file"


def _ask(store: Store) -> LoadView | None:
    with st.form("load", border=False):
        file = st.file_uploader("Shot log or list of changes (CSV)", type=["csv"])
        left, right = st.columns(2)
        kind = left.selectbox("The file holds", ("shots", "changes"))
        conflict = right.selectbox(
            "Shots stored already with other readings",
            tuple(CONFLICTS),
            format_func=CONFLICTS.__getitem__,
        )
        skip_bad = left.checkbox("Leave bad rows out and store the rest")
        pressed = st.form_submit_button("Load", type="primary")
    if not pressed:
        return None
    if file is None:
        return LoadView("No file was chosen.", "Choose a CSV file first.", stored=False)
    return load_view(
        store,
        file.getvalue(),
        file.name,
        cast(FileKind, kind),
        today=date.today(),
        skip_bad=skip_bad,
        on_conflict=cast(OnConflict, conflict),
    )


def _loads(store: Store, called: Callings) -> None:
    loads = (replace(load, source=called.in_file_name(load.source)) for load in store.loads())
    groups = grouped_loads(tuple(loads))
    if not groups:
        return
    st.header("Loads so far", anchor=False)
    drawing.table(LOAD_COLUMNS, _load_rows(groups[:SHOWN]), "")
    if any(len(group) > 1 for group in groups[:SHOWN]):
        st.caption(
            "Shots of a live lesson stand in one row as long as less than an hour lies between "
            "them; two lessons given side by side share a row."
        )
    _take_back(store, groups[0])


def grouped_loads(loads: Sequence[ImportBatch]) -> list[tuple[ImportBatch, ...]]:
    """Return the loads, latest first, the shots of one live lesson together."""
    groups: list[tuple[ImportBatch, ...]] = []
    for load in loads:
        later = groups[-1][-1] if groups else None
        if (
            later is not None
            and load.source == later.source == LIVE
            and later.loaded_at - load.loaded_at < LESSON_PAUSE
        ):
            groups[-1] = (*groups[-1], load)
        else:
            groups.append((load,))
    return groups


def undo_loads(store: Store, group: Sequence[ImportBatch]) -> int:
    """Take a group of the latest loads back, latest first; return how many went.

    It stops at a load that is not of the group, which somebody else has added meanwhile.
    """
    numbers = {load.id for load in group}
    gone = 0
    while (loads := store.loads()) and loads[0].id in numbers:
        store.undo_last_load()
        gone += 1
    return gone


def _take_back(store: Store, last: Sequence[ImportBatch]) -> None:
    """Offer to take the last load back; of a live lesson, its last entry or all of it."""
    stored = sum(load.stored for load in last)
    if len(last) == 1:
        with st.popover("Take the last load back"):
            drawing.say(
                f"This removes the {counted(stored, 'shot')} that {last[0].source} added. Shots "
                "it replaced stay as they are now."
            )
            if st.button("Remove them", key=f"undo load {last[0].id}"):
                undo_loads(store, last)
                st.rerun()
        return
    with st.popover("Take the live lesson back"):
        drawing.say(
            f"The lesson holds {counted(stored, 'shot')}. Take back only what was entered last "
            f"({counted(last[0].stored, 'shot')}), or the whole lesson."
        )
        if st.button("Remove the last entry", key=f"undo load {last[0].id}"):
            undo_loads(store, last[:1])
            st.rerun()
        if st.button("Remove the whole lesson", key=f"undo lesson {last[0].id}"):
            undo_loads(store, last)
            st.rerun()


def _load_rows(groups: Sequence[Sequence[ImportBatch]]) -> list[tuple[str, ...]]:
    return [
        (
            _loaded_text(group),
            group[0].source,
            counted(sum(load.stored for load in group), "shot"),
            counted(sum(load.already_stored for load in group), "shot"),
            counted(sum(load.replaced for load in group), "shot"),
        )
        for group in groups
    ]


def _loaded_text(group: Sequence[ImportBatch]) -> str:
    first, last = group[-1].loaded_at, group[0].loaded_at
    text = f"{first:%d %b %Y, %H:%M}"
    if f"{last:%H:%M}" == f"{first:%H:%M}":
        return text
    until = f"{last:%H:%M}" if last.date() == first.date() else f"{last:%d %b %Y, %H:%M}"
    return f"{text} to {until}"
