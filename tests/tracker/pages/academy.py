"""Hand-made answers, shots and a fit of two invented players, for the page tests."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from tests.fits import day, make_fit, noise, with_info
from tracker.decisions.distance.gain_answer import Fix, Gains, LeverGain
from tracker.decisions.distance.yardstick import TOWARD
from tracker.fits.kept_fits import keep_fit
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.records import Change, Shot
from tracker.store.store import BY_HAND, Store

LEVELS = {
    "Cedar": {"strike_up_mm": [-8.0, -8.2, -4.0, -3.8], "strike_toe_mm": 3.0},
    "Alder": {"strike_up_mm": 2.0, "strike_toe_mm": -2.0},
}
THEMSELVES = {name: name for name in LEVELS}
CHANGES = (Change("Cedar", day(10), "drill", "tee it higher", "strike_up_mm", 4),)


def metres(median, low, high):
    return Interval(median, low, high, "m")


def fix(trait, gain, *, p_best=0.82, regret=0.4, **changes):
    median, low, high = gain
    made = Fix(
        trait=trait,
        lever="tee ladder",
        now=Interval(-8.0, -9.5, -6.5, "mm" if trait.endswith("mm") else "deg"),
        target=5.0,
        window=(2.0, 8.0),
        share=Interval(0.4, 0.12, 0.72, ""),
        gain_m=metres(median, low, high),
        mean_gain_m=median,
        full_fix_gain_m=metres(2 * median, 1.5 * median, 3 * median),
        gain_alone_m=metres(median, low, high),
        gain_as_player_moves_m=metres(median, low, high),
        total_gain_m=metres(median + 1, low, high + 1),
        ball_speed_gain_mps=Interval(0.44704, 0.0, 0.89408, "m/s"),
        spin_change_rpm=Interval(-300.0, -500.0, -100.0, "rpm"),
        side_change_m=metres(0.0, -0.9144, 0.9144),
        p_best=p_best,
        p_top2=0.95,
        expected_regret_m=regret,
        effort_sessions=1.0,
    )
    return replace(made, **changes)


def lever(name, kind, trait, gain, *, p_best=0.82, regret=0.4, effort=1.0, **changes):
    median, low, high = gain
    made = LeverGain(
        name=name,
        kind=kind,
        trait=trait,
        move=Interval(4.0, 1.0, 7.0, "mm"),
        effort_sessions=effort,
        gain_m=metres(median, low, high),
        gain50_m=(median - 1, median + 1),
        mean_gain_m=median,
        gain_per_session_m=median / effort,
        p_best=p_best,
        expected_regret_m=regret,
        stays_inside_change=Interval(-2.0, -5.0, 1.0, "points"),
        particular_gain_m=1.8288,
        reason="it moved 4 of 6 here by about 5.0 mm",
    )
    return replace(made, **changes)


LADDER = lever("tee ladder", "drill", "strike_up_mm", (6.4008, 1.8288, 11.8872))
NEW_ATTACK = lever(
    "a new drill for attack angle", "new", "attack_deg", (2.0, -1.0, 5.0), p_best=0.15, regret=4.0
)
FASTER = lever(
    "1 mph more club speed", "yardstick", "club_speed_mps", (2.4, 2.0, 2.8), move=None,
    effort_sessions=None, gain_per_session_m=None, p_best=None, expected_regret_m=None,
    particular_gain_m=None,
)  # fmt: skip


def gains(player="Cedar", **changes):
    made = Gains(
        player=player,
        as_of=datetime(2026, 3, 1),
        carry_m=metres(190, 184, 196),
        yardstick=TOWARD,
        levers=(LADDER, NEW_ATTACK, FASTER),
        fixes=(
            fix("strike_up_mm", (6.4008, 1.8288, 11.8872)),
            fix("attack_deg", (2.0, -1.0, 5.0), p_best=0.15, regret=4.0),
        ),
        first="strike_up_mm",
        first_lever="tee ladder",
        clear=True,
        tied=("strike_up_mm",),
        tied_levers=("tee ladder",),
        measure=None,
        sentence=f"{player}: the sentence.",
        lead="The sentence.",
        measure_next="",
        problems=(),
        notes=("No delivered loft reading: taken from the squad.",),
        tighter_scatter_gain_m=metres(2.0, 1.0, 3.0),
    )
    return replace(made, **changes)


BALLS = tuple(
    (trait, player, session, read + session + apart, read + 1.5 * session, read, 0.3)
    for trait, read in (("ball_speed_mps", 65.0), ("carry_m", 190.0))
    for player, apart in (("Cedar", 0.5), ("Alder", -0.5))
    for session in range(4)
)
"""Session means of two ball traits: trait, player, session, read, predicted, published, error."""


def small_fit(
    *,
    with_balls: bool = False,
    called: Mapping[str, str] = THEMSELVES,
    changes: tuple[Change, ...] = CHANGES,
) -> Fit:
    """A fit in which Cedar's strike rose by about 4 mm with a drill, and Alder stayed."""
    return make_fit(
        {called[who]: levels for who, levels in LEVELS.items()},
        physics={"drag_factor": 0.98 + 0.005 * noise(400, seed=9)} if with_balls else None,
        ball_check=tuple((t, called[who], *rest) for t, who, *rest in BALLS if with_balls),
        changes=changes,
        level_sd={"strike_up_mm": 0.4},
        change_effect={0: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=5)}},
        drill_effect={changes[0].name: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=2)}},
    )


def shots():
    return [
        Shot(
            player,
            datetime(2026, 1, 5 + 7 * s),
            n,
            {"strike_toe_mm": 3.0 + n, "strike_up_mm": levels["strike_up_mm"] + n - 2.0},
        )
        for player, levels in (
            ("Cedar", {"strike_up_mm": -8.0}),
            ("Alder", {"strike_up_mm": 2.0}),
        )
        for s in range(4)
        for n in (1, 2, 3)
    ]


def keep(store: Store, fit: Fit, *, digest: str = "") -> int:
    """Keep a fit as one of what is stored now, or of other shots under a digest of their own."""
    seen = with_info(fit, replace(fit.info, data_digest=digest or store.data_digest()))
    return keep_fit(store, seen, store.shots_frame(), sessions=8, shots=24)


def fill(
    store: Store,
    *,
    with_balls: bool = False,
    called: Mapping[str, str] = THEMSELVES,
    source: str = BY_HAND,
    **change: str,
) -> None:
    """Store the shots, the change and the fit; the players may be called otherwise."""
    changes = (replace(CHANGES[0], player=called["Cedar"], **change),)
    named = [replace(shot, player=called[shot.player]) for shot in shots()]
    store.add_shots(named, source=source)
    store.add_changes(changes)
    keep(store, small_fit(with_balls=with_balls, called=called, changes=changes))
