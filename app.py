"""The page as Streamlit runs it: names the pages and their order; decides nothing."""

import streamlit as st

from tracker.pages import coach, live, load, physics, player, season, squad, trust
from tracker.pages.shared import address
from tracker.pages.shared.ahead import AHEAD
from tracker.pages.shared.styles import page_styles

st.set_page_config(layout="wide", initial_sidebar_state="auto")

pages = [
    st.Page(coach.page, title="Coach", url_path="coach"),
    st.Page(player.page, title="Player", url_path="player"),
    st.Page(squad.page, title="Squad", url_path="squad"),
    st.Page(season.page, title="Season", url_path="season"),
    st.Page(live.page, title="Live", url_path="live"),
    st.Page(physics.page, title="Physics", url_path="physics"),
    st.Page(trust.page, title="Trust", url_path="trust"),
    st.Page(load.page, title="Load", url_path="load"),
]
# the coach's page answers at its own path and at the bare address
front = st.Page(coach.page, title="Coach", url_path="front", default=True)

here = st.navigation([front, *pages], position="hidden")
page_styles()
address.arrive()
address.place_links([front, *pages[1:]] if here == front else pages)
with AHEAD.waiting():
    here.run()
