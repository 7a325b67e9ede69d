"""A strike read from a photograph of the marked face: reference points, then the mark."""

import base64
import hashlib
import io
from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd
import streamlit as st
from PIL import Image, ImageOps

from tracker.charts.clickable import clickable_photo
from tracker.errors import TrackerError
from tracker.lesson.homography import LEAST_POINTS, PhotoStrike, ReferencePoint, photo_strike
from tracker.lesson.kept_photos import keep_photo, photo_folder
from tracker.lesson.session import Lesson
from tracker.pages.shared import drawing
from tracker.pages.shared.face_input import Place, picture_to_click, take_clicks
from tracker.pages.shared.phrases import amount_with_range
from tracker.plain import markdown
from tracker.records import Shot
from tracker.store.store import Store

POINTS_SETTING = "photo_reference_points"
DEFAULT_POINTS: tuple[tuple[str, float, float], ...] = (
    ("top toe corner", 20.0, 10.0),
    ("top heel corner", -20.0, 10.0),
    ("bottom heel corner", -20.0, -10.0),
    ("bottom toe corner", 20.0, -10.0),
)
"""A rectangle of 40 by 20 mm around the face centre, drawn or stuck on."""

COLUMNS = ("Point", "toe side (mm)", "up (mm)")
MARK = "the mark of the ball"
LONGEST_SIDE_PX = 1600
CLICK_SD_PX = 3.0


def photo_entry(
    store: Store, lesson: Lesson, on_strike: Callable[[float, float], Shot | None]
) -> None:
    """Ask for a photograph and clicks on it; hand the strike over when it is stored."""
    file = st.file_uploader("Photograph of the marked face", type=["jpg", "jpeg", "png", "webp"])
    points = _ask_points(store)
    st.caption(
        "Photograph it square on: the map takes the face as flat, and its bulge hides about 1 mm "
        "25 mm out when the camera looks from 45° aside. The photograph is not kept unless you "
        "ask for it."
    )
    if file is None:
        return
    try:
        jpeg, size = plain_jpeg(file.getvalue())
    except (OSError, ValueError, Image.DecompressionBombError):
        drawing.refused(
            f"{file.name} cannot be read as a photograph; wanted a JPEG, PNG or WebP file."
        )
        return
    digest = hashlib.sha256(jpeg).hexdigest()[:12]
    clicks: list[Place] = st.session_state.setdefault(f"photo clicks {digest}", [])
    names = [*(name for name, _, _ in points), MARK]

    def clicked(place: Place) -> None:
        if len(clicks) < len(names):
            clicks.append(place)

    take_clicks(f"photo {digest}", clicked)
    wanted = names[len(clicks)] if len(clicks) < len(names) else ""
    drawing.say("", f"Click {wanted}." if wanted else "All places are clicked.")
    kept = st.session_state.pop("photo kept", None)
    if kept:
        drawing.done(f"The photograph is kept as {kept}.")
    not_kept = st.session_state.pop("photo problem", None)
    if not_kept:
        drawing.refused(not_kept)

    def take_back() -> None:
        clicks.pop()

    labels = [*(str(i + 1) for i in range(len(points))), "mark"]
    marked = [(n, c.x, c.y) for n, c in zip(labels, clicks, strict=False)]
    address = f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"
    picture_to_click(clickable_photo(address, size, marked, wanted), f"photo {digest}")
    left, right = st.columns(2, vertical_alignment="bottom")
    error_px = left.number_input("One click is off by about (px)", 0.5, 50.0, CLICK_SD_PX, 0.5)
    right.button("Take the last click back", disabled=not clicks, on_click=take_back)
    if not wanted:
        _result(store, points, clicks, error_px, lesson, jpeg, on_strike)


def plain_jpeg(content: bytes) -> tuple[bytes, tuple[int, int]]:
    """Return a photograph upright, at most 1600 px long, without place, time or camera in it."""
    with Image.open(io.BytesIO(content)) as opened:
        upright = ImageOps.exif_transpose(opened).convert("RGB")
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    buffer = io.BytesIO()
    upright.save(buffer, "JPEG", quality=88)
    return buffer.getvalue(), upright.size


def _ask_points(store: Store) -> list[tuple[str, float, float]]:
    """Ask for the known places on the face; they are remembered for the next time."""
    kept = [tuple(row) for row in store.setting(POINTS_SETTING, default=DEFAULT_POINTS)]
    with st.expander("Known points on the face, in the order you will click them"):
        table = st.data_editor(
            pd.DataFrame(kept, columns=list(COLUMNS)),
            num_rows="dynamic",
            hide_index=True,
            key="photo points",
        )
        points = points_of(table)
        if len(points) < LEAST_POINTS:
            drawing.refused(f"Found {len(points)} whole rows, wanted at least {LEAST_POINTS}.")
        elif [tuple(p) for p in points] != kept and st.button("Remember these points"):
            store.set_setting(POINTS_SETTING, [list(p) for p in points])
            st.rerun()
    return points


def points_of(table: pd.DataFrame) -> list[tuple[str, float, float]]:
    """Return the whole rows of the table of points."""
    whole: Sequence[Sequence[Any]] = table.dropna().to_numpy().tolist()
    return [(str(name), float(toe), float(up)) for name, toe, up in whole]


def _result(
    store: Store,
    points: Sequence[tuple[str, float, float]],
    clicks: Sequence[Place],
    error_px: float,
    lesson: Lesson,
    jpeg: bytes,
    on_strike: Callable[[float, float], Shot | None],
) -> None:
    references = [
        ReferencePoint(*point, click.x, click.y)
        for point, click in zip(points, clicks, strict=False)
    ]
    mark = clicks[len(points)]
    try:
        found = photo_strike(
            references, (mark.x, mark.y), click_sd_px=error_px, handed=lesson.handed
        )
    except TrackerError as error:
        drawing.refused(f"No strike from these clicks: {error}")
        return
    drawing.say(result_text(found), "Strike:")
    keep = st.checkbox(markdown(f"Keep the photograph too, in {photo_folder()}"))

    def store_it() -> None:
        shot = on_strike(found.toe_mm, found.up_mm)
        if shot is None:
            return
        if keep:
            try:
                st.session_state["photo kept"] = str(keep_photo(store, jpeg, shot))
            except TrackerError as error:
                st.session_state["photo problem"] = str(error)
        clicks_of = [key for key in st.session_state if str(key).startswith("photo clicks ")]
        for key in clicks_of:
            del st.session_state[key]

    st.button("Store this strike", type="primary", on_click=store_it)


def result_text(found: PhotoStrike) -> str:
    """Return a strike from a photograph in words, with its error."""
    toe = amount_with_range("strike_toe_mm", found.toe, "metres")
    up = amount_with_range("strike_up_mm", found.up, "metres")
    text = f"{toe} toward the toe, {up} up."
    if found.misfit_mm is not None:
        text += f" The known points fit within {found.misfit_mm:.1f} mm."
    return text
