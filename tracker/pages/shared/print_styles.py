"""How a page looks when the browser prints it: the answer and its pictures, whole, on white."""

import streamlit as st

STYLES = """
@media print {
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
  [data-testid="stVegaLiteChart"], [data-testid="stTable"], [data-testid="stExpander"],
  figure, tr, li { break-inside: avoid; }
  [data-testid="stVegaLiteChart"] svg { max-width: 100% !important; height: auto !important; }
  h1, h2, h3 { break-after: avoid; }
  @page { size: A4; margin: 14mm; }
}
"""


def print_styles() -> None:
    """Give the page its styles for paper; nothing of it shows on the screen."""
    st.html(f"<style>{STYLES}</style>")
