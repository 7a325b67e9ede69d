"""How the parts that every page shares are put on the screen: answer, picture, table.

What a view says is plain text; it becomes Markdown here and nowhere else.
"""

from collections.abc import Callable, Iterable, Sequence

import pandas as pd
import streamlit as st

from tracker.pages.shared.styles import cell_styles
from tracker.plain import JOINER, line, markdown


def answer(headline: str, lead: str) -> None:
    """Write the page's answer: a sentence to remember and one that says how sure."""
    title(headline)
    if lead:
        say(lead)


def title(text: str) -> None:
    """Write the page's headline."""
    st.title(markdown(text), anchor=False)


def heading(text: str) -> None:
    """Write the headline of a part of the page."""
    st.header(markdown(text), anchor=False)


def say(text: str, strong: str = "") -> None:
    """Write a paragraph, ``strong`` in bold before it."""
    st.markdown(f"{_bold(strong)}{markdown(text)}".strip())


def quietly(text: str) -> None:
    """Write a paragraph in small grey letters."""
    st.caption(markdown(text))


def note(text: str) -> None:
    """Write a sentence to keep in mind, in a box."""
    st.info(_boxed(text))


def warn(text: str) -> None:
    """Write a sentence that takes away from the answer, in a box."""
    st.warning(_boxed(text))


def refused(text: str) -> None:
    """Write why something was not done, in a box."""
    st.error(_boxed(text))


def done(text: str) -> None:
    """Write what was done, in a box."""
    st.success(_boxed(text))


def _boxed(text: str) -> str:
    """Return a box's text; a box would take an emoji at its start for its own sign."""
    return markdown(text) if text[:1].isascii() else f"{JOINER}{markdown(text)}"


def _bold(text: str) -> str:
    return f"**{markdown(text)}** " if text.strip() else ""


def problems(sentences: Sequence[str]) -> None:
    """Show what is wrong with the parts of the fit that the answer rests on, before any number."""
    if not sentences:
        return
    found = _listed(sentences)
    st.warning(
        f"What this answer rests on did not pass its checks, so it gives no number.\n{found}\n\n"
        "Fit again; if it comes back, ask for more draws: `drive-progress fit --draws 2000`."
    )


def elsewhere(sentences: Sequence[str]) -> None:
    """Say quietly what is wrong with other parts of the fit."""
    if sentences:
        quietly(f"Elsewhere in this fit, not used here: {' '.join(sentences)}")


def unlike(sentences: Sequence[str]) -> None:
    """Say calmly what the fit does not reproduce; the numbers may be read with that in mind."""
    if not sentences:
        return
    st.info(f"Read with some care: {markdown('; '.join(sentences))}. More on the Trust page.")


def table(
    columns: Sequence[str], rows: Iterable[Sequence[str]], empty: str, *, ranges: bool = False
) -> None:
    """Show rows of text as a plain table, or say why there is none.

    ``ranges`` says that numbers come with their 90 % ends in brackets, which is then explained.
    """
    held = list(rows)
    if not held:
        say(empty)
        return
    cells = [[markdown(cell) for cell in row] for row in held]
    names = [markdown(name) for name in columns]
    frame = pd.DataFrame(cells, columns=names, dtype=object)  # columns of text are slow to style
    styled = frame.style.set_table_styles(cell_styles([line(name) for name in columns], held))
    st.table(styled if frame.columns.is_unique else frame, hide_index=True, border="horizontal")
    if ranges:
        st.caption("In brackets: 90 % sure to be in this range.")


def csv_button(csv: bytes | Callable[[], bytes], key: str) -> None:
    """Offer a table as a file, which may be made when it is asked for; ``key`` names it."""
    st.download_button(
        "Table (CSV)",
        csv,
        file_name=f"{key.replace(' ', '-')}.csv",
        mime="text/csv",
        on_click="ignore",
        type="tertiary",
        key=f"{key} as csv",
    )


def bullets(sentences: Iterable[str]) -> None:
    """Write sentences as a list."""
    st.markdown(_listed(sentences))


def note_bullets(sentences: Iterable[str]) -> None:
    """Write sentences to keep in mind as a list, in a box."""
    st.info(_listed(sentences))


def warn_bullets(sentences: Iterable[str]) -> None:
    """Write sentences that take away from the answer as a list, in a box."""
    st.warning(_listed(sentences))


def _listed(sentences: Iterable[str]) -> str:
    return "\n".join(f"- {markdown(sentence)}" for sentence in sentences)
