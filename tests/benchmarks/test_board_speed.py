"""A board of 400 players x 40 sessions: what it takes, and how that grows; ratios in one run."""

import time

import pytest

from tests.benchmarks.big_squad import big_fit
from tracker.decisions.board.changed import who_changed
from tracker.decisions.board.look import who_needs_a_look
from tracker.decisions.board.start_now import squad_start_now, start_now_distance
from tracker.decisions.distance.gain import squad_levers
from tracker.decisions.distance.target import player_target
from tracker.decisions.squad import squad_table, squad_targets

pytestmark = pytest.mark.bench

UP = "strike_up_mm"
SMALL, LARGE, SESSIONS = 40, 400, 40
PAGE = 24


def board(fit, capsys):
    """Work out every part of the board; return the processor's seconds of each."""
    names = [p.name for p in fit.players]
    took = {}

    def timed(what, work):
        processor, wall = time.process_time(), time.perf_counter()
        found = work()
        took[what] = time.process_time() - processor
        with capsys.disabled():
            words = f"{took[what]:.2f} s of the processor, {time.perf_counter() - wall:.2f} s"
            print(f"{len(names)} players, {what}: {words}")
        return found

    targets = timed("targets", lambda: squad_targets(fit, UP))
    timed("places", lambda: squad_table(fit, UP, targets=targets))
    timed("start against now", lambda: squad_start_now(fit, names, UP))
    timed("worth of a page", lambda: [start_now_distance(fit, n) for n in names[:PAGE]])
    timed("who changed", lambda: who_changed(fit, fit.traits, lambda *_: 0.98))
    timed(
        "who needs a look",
        lambda: who_needs_a_look(fit, names, target=lambda p, t: player_target(fit, p, t)),
    )
    return took


def test_a_board_of_400_players_grows_as_their_number_and_its_first_paint_fits(capsys):
    small, large = big_fit(SMALL, SESSIONS), big_fit(LARGE, SESSIONS)
    squad_levers(small, players=["P000"])  # loads the compiled flight
    board(small, capsys)
    few, many = board(small, capsys), board(large, capsys)
    for what in ("targets", "start against now", "who changed", "who needs a look"):
        assert many[what] < 3 * LARGE / SMALL * few[what], what
    # what is left to work out once places are at hand: the page shown and its distances
    assert many["worth of a page"] < 3 * few["worth of a page"]


def test_levers_of_a_large_squad_cost_a_player_what_those_of_a_small_one_do(capsys):
    """Before, each player looked at all others, and 400 cost four times as much a player."""
    a_player = {}
    for players in (SMALL, LARGE):
        fit = big_fit(players, SESSIONS)
        some = [p.name for p in fit.players[:20]]
        squad_levers(fit, players=some[:1])
        processor, wall = time.process_time(), time.perf_counter()
        squad_levers(fit, players=some)
        a_player[players] = (time.process_time() - processor) / len(some)
        with capsys.disabled():
            print(
                f"levers in a squad of {players}: {a_player[players]:.3f} s of the processor a "
                f"player, {(time.perf_counter() - wall) / len(some):.3f} s"
            )
    assert a_player[LARGE] < 1.5 * a_player[SMALL]
