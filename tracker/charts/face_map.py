"""How a driver face is drawn to scale in millimetres, with strikes, tendency and target on it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, accent, framed, grey
from tracker.records import Handed

CHI2_2 = {0.5: 1.3862943611198906, 0.9: 4.605170185988092}
"""Squared radius of a two-dimensional Normal region by its mass: -2 log(1 - mass)."""

HALF_WIDTH_MM, HALF_HEIGHT_MM = 56.0, 28.0
NECK_TOE_MM, NECK_UP_MM = (-47.0, -58.0, -66.0, -55.5), (13.0, 40.0, 40.0, 2.0)
_VIEW_X_MM, _VIEW_Y_MM = 64.0, 40.0


@dataclass(frozen=True, slots=True)
class Normal2D:
    """The mean and covariance of strikes or of a tendency, toe then up, in mm and mm2."""

    mean: tuple[float, float]
    covariance: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class FaceMap:
    """What goes on the face: strikes as (toe, up) in mm, + toward the toe and the crown."""

    handed: Handed
    strikes: tuple[tuple[float, float], ...]
    tendency: Normal2D | None
    scatter: Normal2D | None
    window_toe_mm: tuple[float, float] | None
    window_up_mm: tuple[float, float] | None


def face_outline() -> tuple[Floats, Floats]:
    """Return the outline of our own plain face, toe and up in mm: rounder and taller at the toe."""
    angle = np.linspace(0, 2 * np.pi, 181)
    cos, sin = np.cos(angle), np.sin(angle)
    toe = HALF_WIDTH_MM * np.sign(cos) * np.abs(cos) ** 0.8
    up = HALF_HEIGHT_MM * np.sign(sin) * np.abs(sin) ** 0.85 * (1 + 0.16 * toe / HALF_WIDTH_MM)
    return toe, up + 0.06 * toe


def ellipse(cloud: Normal2D, mass: float) -> tuple[Floats, Floats]:
    """Return the outline of the smallest region that holds ``mass`` of a Normal cloud."""
    values, vectors = np.linalg.eigh(np.asarray(cloud.covariance))
    angle = np.linspace(0, 2 * np.pi, 73)
    circle = np.stack([np.cos(angle), np.sin(angle)])
    radii = np.sqrt(np.maximum(values, 0) * CHI2_2[mass])
    points = vectors @ (radii[:, None] * circle) + np.asarray(cloud.mean)[:, None]
    return points[0], points[1]


def face_figure(face: FaceMap) -> go.Figure:
    """Return the face as the player looks at it from the front: toe left for a right-hander."""
    figure = go.Figure()
    _draw_club(figure)
    _draw_window(figure, face)
    if face.strikes:
        toe, up = np.asarray(face.strikes).T
        figure.add_scatter(
            x=toe, y=up, mode="markers", name="shots",
            marker={"color": grey(0.5), "size": 5},
            hovertemplate="%{x:+.1f} mm toe side, %{y:+.1f} mm up<extra></extra>",
        )  # fmt: skip
    if face.scatter is not None:
        x, y = ellipse(face.scatter, 0.9)
        figure.add_scatter(
            x=x, y=y, mode="lines", name="9 in 10 shots", hoverinfo="skip",
            line={"color": GREY, "width": 1.5, "dash": "dot"},
        )  # fmt: skip
    if face.tendency is not None:
        _draw_tendency(figure, face.tendency)
    framed(figure, height=440)
    _axes(figure, face.handed)
    return figure


def _draw_club(figure: go.Figure) -> None:
    plain = {"mode": "lines", "hoverinfo": "skip", "showlegend": False, "fill": "toself"}
    figure.add_scatter(
        x=NECK_TOE_MM, y=NECK_UP_MM, name="neck", fillcolor=grey(0.10),
        line={"color": grey(0.0), "width": 0}, **plain,
    )  # fmt: skip
    toe, up = face_outline()
    figure.add_scatter(
        x=toe, y=up, name="face", fillcolor=grey(0.10),
        line={"color": grey(0.8), "width": 1.5}, **plain,
    )  # fmt: skip
    figure.add_scatter(
        x=[0], y=[0], mode="markers", hoverinfo="skip", showlegend=False, name="face centre",
        marker={"symbol": "cross-thin", "size": 12, "line": {"color": GREY, "width": 1.5}},
    )  # fmt: skip


def _draw_window(figure: go.Figure, face: FaceMap) -> None:
    if face.window_toe_mm is None and face.window_up_mm is None:
        return
    toe = face.window_toe_mm or (-HALF_WIDTH_MM, HALF_WIDTH_MM)
    up = face.window_up_mm or (-HALF_HEIGHT_MM, HALF_HEIGHT_MM)
    figure.add_scatter(
        x=[toe[0], toe[1], toe[1], toe[0], toe[0]], y=[up[0], up[0], up[1], up[1], up[0]],
        mode="lines", name="target window", hoverinfo="skip",
        line={"color": ACCENT, "width": 2.5, "dash": "dash"},
    )  # fmt: skip
    figure.add_annotation(
        x=sum(toe) / 2, y=up[1], text="target", showarrow=False, yanchor="bottom",
    )  # fmt: skip


def _draw_tendency(figure: go.Figure, tendency: Normal2D) -> None:
    for mass, fill in ((0.9, 0.22), (0.5, 0.45)):
        x, y = ellipse(tendency, mass)
        figure.add_scatter(
            x=x, y=y, mode="lines", fill="toself", fillcolor=accent(fill), hoverinfo="skip",
            line={"color": ACCENT, "width": 1.5}, name=f"tendency, {mass * 100:.0f} % sure",
        )  # fmt: skip
    figure.add_scatter(
        x=[tendency.mean[0]], y=[tendency.mean[1]], mode="markers", name="tendency",
        showlegend=False, marker={"color": ACCENT, "size": 6},
        hovertemplate="tendency: %{x:+.1f} mm toe side, %{y:+.1f} mm up<extra></extra>",
    )  # fmt: skip


def _axes(figure: go.Figure, handed: Handed) -> None:
    """Set equal scales; the data stay as they are and the axis turns round with the hand."""
    outward = 1 if handed == "left" else -1
    ticks = [float(v) for v in range(-60, 61, 10)]
    common = {"tickvals": ticks, "ticktext": [_tick(v) for v in ticks], "tickangle": 0}
    figure.update_xaxes(
        title_text="across the face (mm from centre)",
        range=[-outward * _VIEW_X_MM, outward * _VIEW_X_MM],
        constrain="domain",
        **common,
    )
    figure.update_yaxes(
        title_text="up the face (mm)",
        range=[-_VIEW_Y_MM, _VIEW_Y_MM],
        scaleanchor="x",
        scaleratio=1,
        constrain="domain",
        **common,
    )
    for text, toe in (("toe side", 46.0), ("heel side", -46.0)):
        figure.add_annotation(x=toe, y=-36, text=text, showarrow=False)


def _tick(value_mm: float) -> str:
    return f"{value_mm:.0f}" if value_mm % 20 == 0 else ""


def strike_cloud(toe_draws: Floats, up_draws: Floats) -> Normal2D:
    """Return the mean and covariance of joint draws of toe and up."""
    covariance = np.cov(np.stack([toe_draws, up_draws]))
    return cloud_of((float(toe_draws.mean()), float(up_draws.mean())), covariance)


def cloud_of(mean: tuple[float, float], covariance: Floats) -> Normal2D:
    """Return a cloud from a mean and a 2 x 2 covariance."""
    rows: Sequence[Sequence[float]] = covariance.tolist()
    return Normal2D(mean, ((rows[0][0], rows[0][1]), (rows[1][0], rows[1][1])))
