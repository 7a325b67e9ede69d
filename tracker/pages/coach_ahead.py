"""What the coach's page asks for first, and what its reader is likely to ask for next."""

from collections.abc import Iterator
from functools import partial

from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.yardstick import TOWARD, YARDSTICKS, Yardstick
from tracker.pages import distance, next_step
from tracker.pages.drives import spreads_of
from tracker.pages.shared import context
from tracker.pages.shared.ahead import AHEAD, Work
from tracker.units import System


def work_out_ahead() -> None:
    """Work out what the page shows first and everybody's first lever under it; list the rest."""
    key = context.latest_key()
    player = None if key is None else context.likely_first(key)
    if key is None or player is None:
        return
    _whole_page(key, player, (), TOWARD, "yards")
    AHEAD.likely(likely_next(key, player, (), TOWARD, "yards"))


def likely_next(
    key: context.FitKey,
    player: str,
    efforts: context.Efforts,
    yardstick: Yardstick,
    system: System,
) -> Iterator[Work]:
    """Yield what choosing something else on a player's page asks for, the likeliest first.

    That is this player by other yardsticks, the other players, from the one below on the list, and
    last the others' first levers by other yardsticks. None of a fit that answers nothing of it, and
    of a large squad the players nearest on the list.
    """
    if context.stored_fit(key).problems_of(*DISTANCE_PARTS):
        return
    names = [one.name for one in context.stored_fit(key).players]
    place = names.index(player)
    others = (names[place + 1 :] + names[:place])[: context.WARMED]
    asked = [y for name in YARDSTICKS if (y := Yardstick(name)) != yardstick]
    for other in asked:
        yield partial(_whole_page, key, player, efforts, other, system)
    for name in others:
        yield partial(_whole_page, key, name, efforts, yardstick, system)
    if len(names) <= context.WARMED:
        for other in asked:
            for name in others:
                yield partial(context.gains_of, key, name, efforts, other, system)


def _whole_page(
    key: context.FitKey,
    player: str,
    efforts: context.Efforts,
    yardstick: Yardstick,
    system: System,
) -> Gains:
    gains = context.gains_of(key, player, efforts, yardstick, system)
    if not gains.problems:
        spreads_of(key, player, yardstick, gains.best.lever.key if gains.best else None)
        distance.ahead(key, player)
        next_step.ahead(key, gains)
    return gains
