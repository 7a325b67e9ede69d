"""The section 'Where the distance goes' of the coach's page: two ends to pick, one picture."""

from collections.abc import Sequence
from dataclasses import replace

import streamlit as st

from tracker.charts.waterfall import waterfall_chart
from tracker.decisions.distance.ends import Moment
from tracker.decisions.distance.explain import Explanation, explain
from tracker.errors import TrackerError
from tracker.pages.distance_view import DistanceView, End, distance_view, ends_to_choose
from tracker.pages.shared import address, context, drawing
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture
from tracker.pages.shared.waiting import waited

HOW_TO_READ_WATERFALL = (
    "From the top, each bar starts where the one above ends: solid bars make it longer, hollow "
    "ones shorter, the dashed one is what delivery and physics do not explain. Thin lines: 90 % "
    "sure for that part. Last: the whole difference."
)
CAPTION = "Solid: longer; hollow: shorter; dashed: not explained; thin lines: 90 % sure."
WHOLE = "the whole session"


@st.fragment
def section(here: context.Here, player: str) -> None:
    """Ask what to compare with what and show where the difference in carry comes from."""
    st.header("Where the distance goes", anchor=False)
    starts, ends = ends_to_choose(here.fit, player)
    if len(starts) < 2:
        st.markdown("One session only: load another, or another player, to compare it with.")
        return
    left, right = st.columns(2)
    with left:
        start = _asked("From", starts, here, f"{player} from")
    with right:
        end = _asked("To", ends, here, f"{player} to")
    split = st.toggle("Attack alone and the loft it takes along apart", key=f"{player} split")
    if start == end:
        st.markdown("From and to are the same; pick two different ones.")
        return
    try:
        with st.spinner("Working out where the distance goes"):
            asked = here.key, here.store.data_version(), start, end, split
            found = waited(lambda: explained(*asked))
    except TrackerError as error:
        drawing.say(str(error))
        return
    render(distance_view(found, start, end, here.system))


def render(view: DistanceView) -> None:
    """Draw the sentence, the picture and what stands behind it."""
    drawing.say(view.lead, view.headline)
    chart = waterfall_chart(view.picture)
    picture(chart, "waterfall", CAPTION, view.picture_text, HOW_TO_READ_WATERFALL)
    if view.split:
        drawing.say(view.split)
    for note in view.notes:
        drawing.quietly(note)
    with st.expander("What was delivered at both ends"):
        drawing.table(("Delivery", *view.ends), view.levels, "", ranges=True)


def ahead(key: context.FitKey, player: str) -> None:
    """Work out ahead what the section compares first."""
    starts, ends = ends_to_choose(context.stored_fit(key), player)
    if len(starts) > 1:
        version = context.store_of(key.url).data_version()
        explained(key, version, starts[0], ends[0], False)


@once(256)
def explained(key: context.FitKey, version: int, start: End, end: End, split: bool) -> Explanation:
    """Return where the difference comes from; ``version`` counts changes of the stored data."""
    logged = [
        shot
        for name in dict.fromkeys((start.player, end.player))
        for shot in context.shots_of_player(key, version, name)
    ]
    return explain(
        context.stored_fit(key), start.player, start.when, end.when, logged,
        to_player=end.player, split=split,
    )  # fmt: skip


def _asked(label: str, options: Sequence[End], here: context.Here, key: str) -> End:
    """Ask for an end, and for one shot of it where it is a session."""
    by_label = {end.label: end for end in options}
    chosen = by_label[address.kept_choice(label, list(by_label), key)]
    if not isinstance(chosen.when, Moment):
        return chosen
    numbers = context.shot_numbers(here, chosen.player, chosen.when.session)
    shots = [WHOLE, *(f"shot {n}" for n in numbers)]
    shot = address.kept_choice(f"{label}: shots", shots, f"{key} {chosen.label}")
    if shot == WHOLE:
        return chosen
    when = replace(chosen.when, shot=int(shot.removeprefix("shot ")))
    return End(chosen.player, when, f"{shot} of {chosen.label}")
