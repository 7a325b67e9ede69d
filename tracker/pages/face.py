"""What is put on the drawing of the face for one player: shots, tendency, scatter and target."""

from models.traits import STRIKES
from tracker.charts.face_map import FaceMap, cloud_of, strike_cloud
from tracker.decisions.distance.gain import Gains
from tracker.pages.shared import context

TOE, UP = STRIKES


def player_face(here: context.Here, player: str, gains: Gains) -> FaceMap | None:
    """Return a player's face map; None where the strike was never read both ways."""
    fit = here.fit
    if not {TOE, UP} <= set(fit.traits):
        return None
    across, high = fit.of(player, TOE), fit.of(player, UP)
    if not (across.is_read and high.is_read):
        return None
    toe, up = across.now, high.now
    scatter = fit.shot_covariance(player, (TOE, UP)).mean(axis=0)
    windows = {fix.trait: fix.window for fix in gains.fixes}
    return FaceMap(
        handed=fit.player(player).handed,
        strikes=context.strikes(here, player),
        tendency=strike_cloud(toe, up),
        scatter=cloud_of((float(toe.mean()), float(up.mean())), scatter),
        window_toe_mm=windows.get(TOE),
        window_up_mm=windows.get(UP),
    )
