"""How a picture is put on a page: drawn, said in a line and in words, handed over as files."""

from collections.abc import Callable
from functools import partial

import altair as alt
import streamlit as st

from tracker.charts import export
from tracker.charts.ink import specification
from tracker.plain import markdown

AXIS_PIXELS = 44
"""What the axis below takes: on a page a picture's height holds it, in a file it comes on top."""


def picture(
    chart: alt.LayerChart, key: str, caption: str, instead: str, how_to_read: str = ""
) -> None:
    """Show a picture with a caption of one line; how to read it and its files fold away.

    ``instead`` says what it shows to those who cannot see it; ``key`` names its files.
    """
    said = f"{caption} {how_to_read} {instead}"
    spec = specification(chart)
    spec["height"] += AXIS_PIXELS
    st.vega_lite_chart(spec, key=key, theme=None, alt=" ".join(said.split()))
    st.caption(markdown(caption))
    with st.container(horizontal=True, key=f"under {key}"):
        if how_to_read:
            with st.popover("How to read it", type="tertiary"):
                st.markdown(markdown(how_to_read))
        with st.popover("Save", type="tertiary"):
            _files(chart, key, caption)


def _files(chart: alt.LayerChart, key: str, caption: str) -> None:
    """Offer the picture as files; each is made when it is asked for."""
    kinds: tuple[tuple[str, str, str, Callable[[], str | bytes]], ...] = (
        ("Picture (PNG)", "png", "image/png", partial(export.png, chart, caption)),
        ("Drawing (SVG)", "svg", "image/svg+xml", partial(export.svg, chart, caption)),
        ("Numbers (CSV)", "csv", "text/csv", partial(export.csv, chart)),
    )
    for label, ending, mime, made in kinds:
        st.download_button(
            markdown(label),
            made,
            file_name=f"{key.replace(' ', '-')}.{ending}",
            mime=mime,
            on_click="ignore",
            key=f"{key} as {ending}",
            width="stretch",
        )
