"""How the parts that every page shares are put on the screen: answer, picture, table."""

from collections.abc import Iterable, Sequence

import pandas as pd
import streamlit as st


def answer(headline: str, lead: str) -> None:
    """Write the page's answer: a sentence to remember and one that says how sure."""
    st.title(headline, anchor=False)
    st.markdown(lead)


def problems(sentences: Sequence[str]) -> None:
    """Show what is wrong with the parts of the fit that the answer rests on, before any number."""
    if not sentences:
        return
    found = "\n".join(f"- {sentence}" for sentence in sentences)
    st.warning(
        f"What this answer rests on did not pass its checks, so it gives no number.\n{found}\n\n"
        "Fit again; if it comes back, ask for more draws: `drive-progress fit --draws 2000`."
    )


def elsewhere(sentences: Sequence[str]) -> None:
    """Say quietly what is wrong with other parts of the fit."""
    if sentences:
        st.caption(f"Elsewhere in this fit, not used here: {' '.join(sentences)}")


def unlike(sentences: Sequence[str]) -> None:
    """Say calmly what the fit does not reproduce; the numbers may be read with that in mind."""
    if not sentences:
        return
    st.info(f"Read with some care: {'; '.join(sentences)}. More on the Trust page.")


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], empty: str) -> None:
    """Show rows of text as a plain table, or say why there is none."""
    held = list(rows)
    if not held:
        st.markdown(empty)
        return
    st.table(pd.DataFrame(held, columns=list(columns)), hide_index=True, border="horizontal")
    if any(" to " in cell and cell.endswith(")") for row in held for cell in row):
        st.caption("In brackets: 90 % sure to be in this range.")


def bullets(sentences: Iterable[str]) -> None:
    """Write sentences as a list."""
    st.markdown("\n".join(f"- {sentence}" for sentence in sentences))
