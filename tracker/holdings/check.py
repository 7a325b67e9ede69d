"""Whether everything stored can be trusted: the file, the rows, and every stored fit."""

from tracker.errors import UnreadableFit
from tracker.fits.kept_fits import fit_of_row
from tracker.store.integrity import Problem, file_problems, row_problems
from tracker.store.store import Store


def problems_of(store: Store) -> tuple[Problem, ...]:
    """Return everything that is wrong with what is stored; empty when nothing is.

    A damaged file is looked at no further: what it says of rows and fits means nothing.
    """
    with store.reading() as connection:
        in_file = file_problems(connection)
        if in_file:
            return in_file
        in_rows = tuple(row_problems(connection))
    return (*in_rows, *_fit_problems(store))


def _fit_problems(store: Store) -> tuple[Problem, ...]:
    found = []
    for summary in store.fits():
        try:
            fit_of_row(store.load_fit(summary.id))
        except UnreadableFit as error:
            what, _, remedy = str(error).rpartition("; ")
            found.append(Problem(what, remedy))
    return tuple(found)
