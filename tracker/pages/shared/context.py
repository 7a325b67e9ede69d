"""What every page asks: the database, its latest fit, and answers worked out once for all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import pandas as pd

from models.traits import STRIKES
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain import ranked
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.screening import likely_to_gain
from tracker.decisions.distance.target import Target
from tracker.decisions.distance.worth import PlayerLevers, common_gains, player_levers
from tracker.decisions.distance.yardstick import TOWARD, Yardstick
from tracker.decisions.squad import (
    DrillRow,
    SquadRow,
    drill_table,
    last_changed,
    squad_table,
    squad_targets,
)
from tracker.decisions.verdict.telling import most_telling
from tracker.errors import NoFit, UnknownPlayer
from tracker.fits.beliefs import changes_seen, promised_by, shots_seen
from tracker.fits.kept_fits import fit_of_row
from tracker.pages.shared import address
from tracker.pages.shared.callings import NAMES, Callings, by_initials
from tracker.pages.shared.once import once
from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.readings.shot_frame import frame_of, shots_of
from tracker.readings.stuck_device import StuckReadings, without_stuck
from tracker.records import DEFAULT_CLUB, Labels, Shot
from tracker.store.engine import default_url
from tracker.store.rows import FitSummary, LoggedChange
from tracker.store.store import Store
from tracker.units import System

WARMED = 40
"""Players up to whom everybody's levers are worked out ahead: more would hold up the pages."""
LOOKED_AT = 5
"""Of those who seem to have most to gain, how many are worked out before one is shown first."""
INITIALS = "initials"
"""The switch for a screen that others see, by the name of its parameter."""

Efforts = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class FitKey:
    """What decides every answer of a page: where the data are and which fit of them."""

    url: str
    fit_id: int
    called: Callings = NAMES
    """What the players of the fit are called in every answer."""
    earlier: bool = False
    """Whether this is an earlier belief, which knows no shot, change or promise that came later."""

    @property
    def by_name(self) -> "FitKey":
        """Return the key of the same fit with everybody called by name."""
        return replace(self, called=NAMES)


@dataclass(frozen=True, eq=False, slots=True)
class Here:
    """Where a page stands: the open store, the fit and the units to show."""

    key: FitKey
    store: Store
    fit: Fit
    system: System

    @property
    def called(self) -> Callings:
        """Return what the players of the fit are called on the page."""
        return self.key.called

    @property
    def may_store(self) -> bool:
        """Return whether anything may be stored from the page: not from an earlier belief."""
        return not self.key.earlier


def keys_alike(here: Here, numbers: Sequence[int]) -> tuple[FitKey, ...]:
    """Return the keys of some fits, in all of which a player is called alike.

    Raises NoFit for a fit of an earlier version, which this one cannot read.
    """
    keys = [FitKey(here.key.url, number) for number in (here.key.fit_id, *numbers)]
    called = callings(here.store, *(stored_fit(key) for key in keys))
    return tuple(replace(key, called=called) for key in keys[1:])


def callings(store: Store, *fits: Fit) -> Callings:
    """Return what stored players and those of fits are called by the switch of the side bar.

    What is chosen, in the address too, calls them likewise from then on.
    """
    in_fits = (player.name for fit in fits for player in fit.players)
    initials = by_initials((*store.players_as_they_came(), *in_fits))
    called = initials if address.kept(INITIALS) == address.ON else NAMES
    address.call_players(called.shown if called.pairs else initials.stored)
    return called


def readable_fit(key: FitKey) -> Fit | None:
    """Return a stored fit; None for one of an earlier version, which this one cannot read."""
    try:
        return stored_fit(key)
    except NoFit:
        return None


def latest_fit(store: Store) -> FitSummary | None:
    """Return the latest fit of the club that the pages are about; None without one."""
    return next((fit for fit in store.fits() if fit.club == DEFAULT_CLUB), None)


def latest_key() -> FitKey | None:
    """Return the key of the latest fit of the default database; None without one."""
    url = default_url()
    latest = latest_fit(store_of(url))
    return None if latest is None else FitKey(url, latest.id)


def work_out_first_answer() -> None:
    """Work out ahead what the coach's page asks: whom to show, that answer, then the squad's."""
    key = latest_key()
    if key is None:
        return
    names = [player.name for player in stored_fit(key).players]
    first = likely_first(key)
    squad_ahead(key)
    in_turn = sorted(names, key=lambda name: name != first)
    for name in in_turn if len(names) <= WARMED else in_turn[:1]:
        levers_of(key, name, TOWARD)


def squad_ahead(key: FitKey) -> None:
    """Work out ahead the places that the squad's page shows first."""
    fit = stored_fit(key)
    _, trait = last_changed(fit)
    trait = trait or fit.traits[0]
    if fit.squad(trait).is_read:
        squad_tables_of(key, trait, tuple(player.name for player in fit.players), None)


@once(4)
def store_of(url: str) -> Store:
    """Return the open database at an address."""
    return Store.open(url)


@once(4)
def stored_fit(key: FitKey) -> Fit:
    """Return a stored fit, decoded once for all readers."""
    if key.called.pairs:
        return key.called.fit(stored_fit(key.by_name))
    return fit_of_row(store_of(key.url).load_fit(key.fit_id))


def levers_of(key: FitKey, player: str, yardstick: Yardstick) -> PlayerLevers:
    """Return what each lever is worth to a player, before any ranking."""
    return key.called.levers(_levers(key.by_name, key.called.stored(player), yardstick))


@once(1024)
def _levers(key: FitKey, player: str, yardstick: Yardstick) -> PlayerLevers:
    common = common_of(key, yardstick)
    return player_levers(stored_fit(key), player, yardstick=yardstick, common=common)


@once(16)
def common_of(key: FitKey, yardstick: Yardstick) -> Mapping[str, float]:
    """Return what each lever is worth to an average player of the squad."""
    return common_gains(stored_fit(key), yardstick)


@once(512)
def gains_of(
    key: FitKey, player: str, efforts: Efforts, yardstick: Yardstick, system: System
) -> Gains:
    """Return one player's gains at the coach's efforts, by the coach's yardstick."""
    return ranked(levers_of(key, player, yardstick), dict(efforts), system)


def likely_first(key: FitKey) -> str | None:
    """Return who has most to gain of a few who seem to; it only chooses whom to show first."""
    found = _most_to_gain(key.by_name)
    return None if found is None else key.called.shown(found)


@once(8)
def _most_to_gain(key: FitKey) -> str | None:
    """Return whose first lever gains most a session; whoever seems first where nobody has one."""
    fit = stored_fit(key)
    likely = likely_to_gain(fit)[:LOOKED_AT]
    if not likely or fit.problems_of(*DISTANCE_PARTS):
        return next(iter(likely), None)
    found = [gains_of(key, name, (), TOWARD, "yards") for name in likely]
    rates = {one.player: one.best.gain_per_session_m or 0.0 for one in found if one.best}
    return max(rates, key=rates.__getitem__) if rates else likely[0]


@once(64)
def telling_of(key: FitKey, player: str | None = None) -> tuple[str | None, str | None]:
    """Return player and trait of the logged change that says most, of one player or of anybody."""
    return most_telling(stored_fit(key), player)


@once(32)
def squad_tables_of(
    key: FitKey, trait: str, players: tuple[str, ...] | None = None, since: date | None = None
) -> tuple[tuple[SquadRow, ...], tuple[DrillRow, ...]]:
    """Return the places of some players (all unless given) for a trait, and every drill."""
    fit, targets = stored_fit(key), squad_targets_of(key, trait)
    return (
        squad_table(fit, trait, players=players, since=since, targets=targets),
        drills_of(key),
    )


@once(16)
def squad_targets_of(key: FitKey, trait: str) -> Mapping[str, Target | None]:
    """Return where a trait should be for everybody who has readings of it."""
    return squad_targets(stored_fit(key), trait)


@once(8)
def drills_of(key: FitKey) -> tuple[DrillRow, ...]:
    """Return every drill with each trait it acts on."""
    return drill_table(stored_fit(key))


def strikes(here: Here, player: str) -> tuple[tuple[float, float], ...]:
    """Return a player's readable strikes as stored, toe and up in mm."""
    return _strikes(here.key.by_name, here.store.data_version(), here.called.stored(player))


@once(64)
def _strikes(key: FitKey, version: int, player: str) -> tuple[tuple[float, float], ...]:
    frame = _frame_of(key, player)
    both = frame[list(STRIKES)].dropna()
    return tuple((float(toe), float(up)) for toe, up in both.to_numpy())


def ball_shots(here: Here) -> int:
    """Return how many stored driver shots have ball speed, launch and spin."""
    shots = squad_shots(here.key, here.store.data_version())
    return int(shots[["ball_speed_mps", "launch_deg", "spin_rpm"]].notna().all(axis=1).sum())


def shot_numbers(here: Here, player: str, session: datetime) -> tuple[int, ...]:
    """Return the numbers of a session's shots as stored."""
    logged = shots_of_player(here.key, here.store.data_version(), player)
    return tuple(sorted(shot.number for shot in logged if shot.session == session))


def squad_shots(key: FitKey, version: int) -> pd.DataFrame:
    """Return the squad's driver shots without what a stuck device gave.

    ``version`` counts changes of the stored data.
    """
    return _told_apart(key, version)[0]


def squad_stuck(key: FitKey, version: int) -> tuple[StuckReadings, ...]:
    """Return what a stuck device gave in the squad's driver shots."""
    return _told_apart(key, version)[1]


@once(4)
def _told_apart(key: FitKey, version: int) -> tuple[pd.DataFrame, tuple[StuckReadings, ...]]:
    stored = _seen(key, store_of(key.url).shots_frame(club=DEFAULT_CLUB))
    return without_stuck(key.called.frame(stored))


def labels(here: Here) -> Mapping[str, Labels]:
    """Return every stored player's group and coach, by the name that is shown."""
    return _labels(here.key, here.store.data_version())


@once(4)
def _labels(key: FitKey, version: int) -> Mapping[str, Labels]:
    return {key.called.shown(name): said for name, said in store_of(key.url).labels().items()}


@once(64)
def shots_of_player(key: FitKey, version: int, player: str) -> tuple[Shot, ...]:
    """Return a player's driver shots; ``version`` counts changes of the stored data."""
    return tuple(map(key.called.shot, shots_of(_frame_of(key, key.called.stored(player)))))


def _frame_of(key: FitKey, player: str) -> pd.DataFrame:
    """Return a player's driver shots; none for a player of a fit who is no longer stored."""
    try:
        return _seen(key, store_of(key.url).shots_frame(player, DEFAULT_CLUB))
    except UnknownPlayer:
        return frame_of(())


def _seen(key: FitKey, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the shots that a page may use, everybody called by name."""
    return shots_seen(stored_fit(key.by_name), frame) if key.earlier else frame


def logged_changes(here: Here, player: str) -> tuple[LoggedChange, ...]:
    """Return a player's logged changes as they are stored now."""
    found = tuple(map(here.called.logged, here.store.logged_changes(here.called.stored(player))))
    return changes_seen(here.fit, found) if here.key.earlier else found


def promises(here: Here, player: str) -> Mapping[int, Promise]:
    """Return what was promised to a player, by the number of the change."""
    found = promises_known(here.key, player)
    return {number: here.called.promise(promise) for number, promise in found.items()}


def promises_known(key: FitKey, player: str | None = None) -> Mapping[int, Promise]:
    """Return what was promised to a player or to anybody, under the names that are stored."""
    found = store_of(key.url).promises(None if player is None else key.called.stored(player))
    if not key.earlier:
        return found
    made = promised_by(stored_fit(key.by_name), found.values())
    return {number: promise for number, promise in found.items() if promise in made}
