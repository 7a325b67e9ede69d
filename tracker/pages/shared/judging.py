"""How a page judges a change: against the squad's own limit, worked out once."""

from contextlib import suppress
from dataclasses import dataclass

from models.arrays import Floats
from tracker.decisions.distance.change_worth import ChangeWorth, change_worth
from tracker.decisions.distance.yardstick import TOWARD, Yardstick
from tracker.decisions.verdict.consistency import ConsistencyVerdict, judge_consistency
from tracker.decisions.verdict.threshold import (
    DEFAULT,
    EVER,
    HIGHEST,
    LOOKS,
    LOWEST,
    OFFERED_EVER,
    Aside,
    Threshold,
    kept_threshold,
)
from tracker.decisions.verdict.verdict import (
    Verdict,
    default_windows,
    judge_change,
    offered_windows,
)
from tracker.errors import NotEnoughData
from tracker.pages.shared import context
from tracker.pages.shared.context import FitKey, Here
from tracker.pages.shared.once import once
from tracker.player_trait import Window
from tracker.units import System

WORKING = (
    "Working out how sure is sure enough for this squad: imagining some two thousand seasons in "
    "which nothing changes. This is done once for each fit and takes a few seconds."
)


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A verdict with the limit it was held against and the levels it compared, stored units.

    ``offered``: the windows are those that the model proposes about a change that nobody logged.
    """

    verdict: Verdict
    limit: Threshold
    logged: bool
    offered: bool
    levels: tuple[Floats, Floats]
    scatter: ConsistencyVerdict | None
    scatter_why_not: str
    worth: ChangeWorth


def judged(
    here: Here,
    player: str,
    trait: str,
    windows: tuple[Window, Window],
    yardstick: Yardstick = TOWARD,
) -> Judged:
    """Return the verdict on a player's trait as the command line gives it, and on its scatter."""
    version = here.store.data_version()
    return _judged(here.key, version, player, trait, windows, yardstick, here.system)


@once(256)
def _judged(
    key: FitKey,
    version: int,
    player: str,
    trait: str,
    windows: tuple[Window, Window],
    yardstick: Yardstick,
    system: System,
) -> Judged:
    fit = context.stored_fit(key)
    one = fit.of(player, trait)
    logged = bool(one.changes)
    offered = windows == offered_windows(fit, player, trait)
    offered = offered and windows != default_windows(fit, player, trait)
    limit = limit_of(key, trait, logged, offered)
    verdict = judge_change(fit, player, trait, *windows, threshold=limit.value, system=system)
    scatter, why_not = _scatter(key, version, player, trait, windows)
    before, after = (one.tendency(w) for w in windows)
    worth = change_worth(fit, player, trait, *windows, yardstick)
    return Judged(verdict, limit, logged, offered, (before, after), scatter, why_not, worth)


def limit_of(key: FitKey, trait: str, logged: bool, offered: bool = False) -> Threshold:
    """Return the limit for players with or without a logged change; it is kept in the database."""
    return _limit(key.by_name, trait, logged, offered)


@once(64)
def _limit(key: FitKey, trait: str, logged: bool, offered: bool) -> Threshold:
    fit = context.stored_fit(key)
    if not fit.players:
        return DEFAULT
    store = context.store_of(key.url)
    kept = Aside(store) if key.earlier else store
    name = fit.players[0].name
    return kept_threshold(kept, fit, name, trait, logged=logged, offered=offered)


def work_out_first_verdict() -> None:
    """Work out ahead the verdict that the player's page shows first, and its limit."""
    key = context.latest_key()
    if key is None:
        return
    fit = context.stored_fit(key)
    player, trait = context.telling_of(key)
    if player is not None and trait is not None and not fit.problems_of(trait):
        limit_of(key, trait, logged=True)
        with suppress(NotEnoughData):
            version = context.store_of(key.url).data_version()
            windows = default_windows(fit, player, trait)
            _judged(key, version, player, trait, windows, TOWARD, "yards")


def _scatter(
    key: FitKey, version: int, player: str, trait: str, windows: tuple[Window, Window]
) -> tuple[ConsistencyVerdict | None, str]:
    """Return the verdict on the scatter, or why there is none."""
    if context.stored_fit(key).problems_of(trait):
        return None, ""
    shots = context.squad_shots(key, version)
    try:
        return judge_consistency(shots, player, trait, *windows), ""
    except NotEnoughData as error:
        return None, str(error)


def limit_words(found: Threshold, *, logged: bool, offered: bool = False) -> tuple[str, ...]:
    """Return which limit was used and why, in plain words."""
    sure = f"{found.value * 100:.4g} %"
    lines = [
        f"A change is called real here when it is at least {sure} sure which way it went, and "
        "worth having when it is 90 % sure to be beyond the size that matters."
    ]
    if found.ever is None or found.ever_high is None:
        lines.append(
            "That is the usual limit: no player of this squad has such readings yet, so it could "
            "not be tried on the squad's own calendar."
        )
        return tuple(lines)
    whom = "a logged change" if logged else "no logged change"
    share = OFFERED_EVER if offered else EVER
    lines += [
        f"Why so sure: whoever looks after every session is fooled by luck sooner or later. In "
        f"{found.seasons:,} imagined seasons on this squad's own dates, with nothing changed and "
        f"a look after each of {LOOKS} sessions, luck was called real in "
        f"{_share(found.ever)} of them, and surely (95 %) in fewer than "
        f"{_share(found.ever_high, up=True)}. The limit is the lowest that keeps this at "
        f"{share * 100:.0f} in 100 or fewer.",
        f"It is for players with {whom}; the others have a limit of their own, since more is open "
        "about a change that nobody has seen at work yet.",
        f"Neighbouring days may resemble each other in these seasons as much as this squad's do "
        f"({found.neighbours:.2f}, where 0 is not at all and 1 is the very same).",
    ]
    if offered:
        lines.append(
            "These dates are the model's own proposal, picked after the fact, so they have a limit "
            "of their own: with it and the usual one, a player is ever fooled in at most "
            f"{EVER * 100:.0f} seasons of 100."
        )
    if found.value <= LOWEST:
        lines.append("A lower limit would do as well; the page does not go below this one.")
    if found.value >= HIGHEST:
        lines.append("No limit was strict enough; the page uses the strictest it knows.")
    lines.append("It is worked out once for a fit, kept, and done anew when the calendar changes.")
    return tuple(lines)


def _share(share: float, *, up: bool = False) -> str:
    """Return a share as ``4.1 in 100``; rounded up where it is an upper limit."""
    hundredths = share * 100 + (0.04999 if up else 0.0)
    return "none" if share == 0 else f"{hundredths:.1f} in 100"
