"""How a page looks where the theme does not say: in small grey letters, on a phone, on paper."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from pandas.io.formats.style_render import CSSDict

SCREEN = """
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] * {
  color: light-dark(#595F64, #B4B8BA) !important; opacity: 1 !important; }
[data-testid="stSliderThumbValue"], [data-testid="stSliderThumbValue"] *,
[data-testid="stButtonGroup"] :is([aria-checked="true"], [aria-pressed="true"], [data-selected]),
[data-testid="stButtonGroup"] :is([aria-checked="true"], [aria-pressed="true"], [data-selected]) * {
  color: light-dark(#16697F, #8CCBE0) !important; }
.st-key-live-headline { min-height: 9rem; }
"""
"""Small grey letters, slider values and the chosen segment: at least 4.5 to 1 on their ground. The
headline of a lesson takes two lines, whether it needs them or not."""
PHONE = """
@media screen and (max-width: 640px) {
  [data-testid="stTable"] table, [data-testid="stTable"] tbody, [data-testid="stTable"] tr,
  [data-testid="stTable"] td { display: block; width: 100%; text-align: left; }
  [data-testid="stTable"] thead { display: none; }
  [data-testid="stTable"] tr { padding: 0.5rem 0; border-bottom: 1px solid #8886; }
  [data-testid="stTable"] td { display: var(--blank, flex); gap: 0.75rem;
    justify-content: space-between; padding: 0.15rem 0 !important; border: 0; }
  [data-testid="stTable"] td::before { content: var(--column); flex: 0 0 40%;
    color: light-dark(#595F64, #B4B8BA); }
}
"""
"""Each row of a table becomes a card whose lines begin with the name of their column; a line of
nothing is left out."""
PRINT = """
@media print {
  html, body, #root { background: #fff !important; color-scheme: light; }
  [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stToolbar"],
  [data-testid="stPopover"], [data-testid="stButton"], [data-testid="stDownloadButton"],
  [data-testid="stFileUploader"], [data-testid="stForm"], [data-testid="stPageLink"],
  [data-testid="stElementToolbar"] { display: none !important; }
  [data-testid="stApp"], [data-testid="stAppViewContainer"], [data-testid="stMain"] {
    position: static !important; display: block !important; height: auto !important;
    overflow: visible !important; background: #fff !important; color: #23282C !important; }
  [data-testid="stMain"] * { color: #23282C !important; }
  [data-testid="stSelectbox"] * { background: #fff !important; }
  [data-testid="stMainBlockContainer"] { max-width: none !important; padding: 0 !important; }
  [data-testid="stHorizontalBlock"] { flex-wrap: wrap; }
  [data-testid="stHorizontalBlock"]:has(> [data-testid="stColumn"]) {
    display: flex !important; flex-wrap: nowrap; }
  [data-testid="stColumn"] { min-width: 0 !important; }
  [data-testid="stVegaLiteChart"] * { max-width: 100% !important; }
  [data-testid="stTable"], [data-testid="stTable"] > div { overflow: visible !important; }
  [data-testid="stVegaLiteChart"], [data-testid="stExpander"], figure, tr, li {
    break-inside: avoid; }
  [data-testid="stVegaLiteChart"] svg { max-width: 100% !important; height: auto !important; }
  h1, h2, h3 { break-after: avoid; }
  @page { size: A4; margin: 14mm; }
}
"""


def page_styles() -> None:
    """Give the page its styles."""
    st.html(f"<style>{SCREEN}{PHONE}{PRINT}</style>")


def cell_styles(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> "list[CSSDict]":
    """Return the styles that tell a table's cells their column and whether they hold nothing.

    A name may be anything somebody typed: what is no plain letter is written as its number.
    """
    named: list[CSSDict] = [
        {"selector": f"td.col{number}", "props": [("--column", f'"{_in_style(name)}"')]}
        for number, name in enumerate(columns)
    ]
    blank = [
        f"td.row{row}.col{column}"
        for row, cells in enumerate(rows)
        for column, cell in enumerate(cells)
        if not cell.strip()
    ]
    if blank:
        named.append({"selector": ",".join(blank), "props": [("--blank", "none")]})
    return named


def _in_style(text: str) -> str:
    return "".join(
        char if char.isascii() and (char.isalnum() or char == " ") else f"\\{ord(char):x} "
        for char in text
    )
