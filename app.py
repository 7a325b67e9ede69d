"""The page as Streamlit runs it: names the pages and their order; decides nothing."""

import streamlit as st

from tracker.pages import coach, live, load, physics, player, squad, trust

st.set_page_config(page_title="Drive Progress", layout="wide", initial_sidebar_state="auto")

st.navigation(
    [
        st.Page(coach.page, title="Coach", url_path="coach", default=True),
        st.Page(player.page, title="Player", url_path="player"),
        st.Page(squad.page, title="Squad", url_path="squad"),
        st.Page(live.page, title="Live", url_path="live"),
        st.Page(physics.page, title="Physics", url_path="physics"),
        st.Page(trust.page, title="Trust", url_path="trust"),
        st.Page(load.page, title="Load", url_path="load"),
    ],
    position="top",
).run()
