"""What the live page says after each shot: today against the tendency, and whether to trust it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from models.arrays import Floats
from models.tendency.live import Mixture
from models.traits import STRIKES, TRAITS
from tracker.charts.clickable import Clickable, clickable_face
from tracker.charts.outline import Normal2D, cloud_of
from tracker.interval import Interval
from tracker.lesson.session import Lesson
from tracker.lesson.update import LiveFit, live_fit
from tracker.pages.shared.phrases import (
    Rows,
    amount,
    amount_brief,
    amount_range,
    counted,
    named,
    trait_label,
)
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB, Change, Shot
from tracker.units import System, trait_display, value_text
from tracker.words import chance_words, start_of_sentence

TOE, UP = STRIKES

CAUTIONS = (
    "Clear the area before every swing: nobody in front of the ball or within a club's reach.",
    "Stop when something hurts; pain is a reason to ask a physiotherapist, not to push on.",
)
"""Common practice in coaching, no source."""

TRUSTED = "The model still trusts this: today is within what it has learned."
NOT_TRUSTED = (
    "The model no longer trusts this: the shots since the last fit are too unlike what it has "
    "learned. They are stored; press Fit again in the side bar."
)
UNUSUAL = 0.9
"""Chance that the day differs at which it is said to; below it the day is an ordinary one."""
COLUMNS = ("Reading", "Shots today", "Today", "Tendency now", "Does the day differ?")


@dataclass(frozen=True, slots=True)
class LiveView:
    """Everything the live page shows of one lesson."""

    headline: str
    lead: str
    tendency: str
    trust: str
    trusted: bool
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    rows: Rows
    count: str
    picture: Clickable


def live_view(
    fit: Fit | None,
    lesson: Lesson,
    shots: Sequence[Shot],
    stored: pd.DataFrame,
    changes: Sequence[Change],
    watched: str,
    system: System,
    waiting: tuple[float, float] | None = None,
) -> LiveView:
    """Return what to show of a lesson.

    ``shots`` are the lesson's; ``stored`` is the player's table with the lesson's club, theirs
    included; ``watched`` is the trait that the answer is about; ``waiting`` is a strike, toe and up
    in mm, that is not stored yet.
    """
    now = None
    if fit is not None and lesson.club == DEFAULT_CLUB:
        now = live_fit(fit, lesson.player, stored, changes, lesson.session)
    words = _LessonWords(fit, now, lesson, shots, system)
    headline, lead, tendency = words.answer(watched)
    trust, trusted = words.trust(watched)
    return LiveView(
        headline=headline,
        lead=lead,
        tendency=tendency,
        trust=trust,
        trusted=trusted,
        problems=fit.problems_of(watched) if fit is not None else (),
        notes=words.notes(),
        rows=words.rows(),
        count=f"{counted(len(shots), 'shot')} stored today",
        picture=clickable_face(lesson.handed, _strikes(shots), words.cloud(), waiting),
    )


def _strikes(shots: Sequence[Shot]) -> list[tuple[float, float]]:
    both = [s.readings for s in shots if TOE in s.readings and UP in s.readings]
    return [(r[TOE], r[UP]) for r in both]


@dataclass(frozen=True, eq=False, slots=True)
class _LessonWords:
    """The sentences of one lesson."""

    fit: Fit | None
    now: LiveFit | None
    lesson: Lesson
    shots: Sequence[Shot]
    system: System

    def answer(self, watched: str) -> tuple[str, str, str]:
        """Return headline, lead and the sentence on the tendency."""
        player = self.lesson.player
        stored = f"{player}: {counted(len(self.shots), 'shot')} stored today."
        if self.fit is None:
            return stored, "Nothing has been fitted yet, so there is no tendency to lay it by.", ""
        if self.lesson.club != DEFAULT_CLUB:
            found = f"The fit is of the {DEFAULT_CLUB}; shots with the {self.lesson.club} are kept."
            return stored, found, ""
        if self.now is None or watched not in self.now.traits:
            return stored, f"No {trait_label(watched)} was fitted: fit again once it is read.", ""
        if self.fit.problems_of(watched):
            found = f"The last fit of {trait_label(watched)} did not pass its checks. "
            return stored, found + "Shots are stored all the same.", ""
        if not self._trusted(watched):
            return stored, "", ""
        k = self.now.traits.index(watched)
        if not self.now.read[k]:
            ask = "Click where the ball met the face, or type what was read."
            head = f"{player}: no shots yet today." if not self.shots else stored
            return head, ask, self._tendency(watched, moved=False)
        if not self._has_history(k):
            return self._first_day(watched)
        return (*self._against_tendency(watched), self._tendency(watched, moved=True))

    def _against_tendency(self, trait: str) -> tuple[str, str]:
        now = self._known()
        k = now.traits.index(trait)
        day = Interval.from_draws(self._away(trait), TRAITS[trait].unit)
        chance, way = self._side(trait)
        subject = TRAITS[trait].spoken.subject
        size = self._size(trait, abs(day.median))
        session = Interval.from_draws(self._fit().squad(trait).session_sd, TRAITS[trait].unit)
        shots, sure = (
            counted(int(now.read[k]), "shot"),
            amount_range(trait, day, self.system, signed=True),
        )
        differ = (
            f"Days differ by about {amount(trait, session.median, self.system)} with nothing "
            f"changed ({amount_range(trait, session, self.system)})."
        )
        if chance >= UNUSUAL:
            headline = (
                f"{self.lesson.player} today: {subject} about {size} {way} than the tendency so "
                f"far ({sure}); {chance_words(chance)} that it really is."
            )
            return headline, f"That is after {shots}. {differ}"
        away = amount(trait, day.median, self.system, signed=True)
        lead = f"After {shots} the day is {away} from the tendency ({sure}). {differ}"
        return f"{self.lesson.player}: an ordinary day so far.", lead

    def _first_day(self, trait: str) -> tuple[str, str, str]:
        now = self._known()
        today = self.interval(now.posterior.today, trait)
        headline = (
            f"{self.lesson.player}, first day: {trait_label(trait)} "
            f"{amount(trait, today.median, self.system, signed=True)} so far "
            f"({amount_range(trait, today, self.system, signed=True)})."
        )
        lead = (
            "That is the day's mean. There is no earlier day to lay it by; the squad's spread "
            "serves as the starting point."
        )
        return headline, lead, self._tendency(trait, moved=False)

    def _tendency(self, trait: str, *, moved: bool) -> str:
        now = self._known()
        after = self.interval(now.posterior.level, trait)
        text = (
            f"{amount(trait, after.median, self.system, signed=True)} "
            f"({amount_range(trait, after, self.system, signed=True)})"
        )
        if not moved:
            return f"The tendency of {trait_label(trait)} is taken as {text}."
        before = self.interval(now.posterior.before, trait)
        return (
            f"With today in it the tendency of {trait_label(trait)} is {text}; before, it was "
            f"{amount(trait, before.median, self.system, signed=True)}."
        )

    def trust(self, watched: str) -> tuple[str, bool]:
        """Return whether the kept draws can still stand in for a fit, in words."""
        now = self.now
        if now is None or watched not in now.traits or not now.read.any():
            return "", True
        if self._fit().problems_of(watched):
            return "", True
        if self._trusted(watched):
            return TRUSTED, True
        return NOT_TRUSTED, False

    def notes(self) -> tuple[str, ...]:
        """Return what the reader must know besides the answer."""
        now = self.now
        if now is None:
            return ()
        notes = []
        if not now.known_player:
            notes.append(f"{self.lesson.player} is not in the fit yet: the squad's prior serves.")
        if now.skipped:
            notes.append(
                f"{counted(now.skipped, 'earlier session')} of {self.lesson.player} came after the "
                "fit was made and counts only once you fit again."
            )
        read = [t for t in now.traits if self._read(t)]
        unsound = [t for t in read if self._fit().problems_of(t)]
        if unsound:
            found = named([trait_label(t) for t in unsound])
            notes.append(f"Not settled by the last fit: {found}.")
        lost = [trait_label(t) for t in read if t not in unsound and not self._follows(t)]
        if lost:
            notes.append(f"No longer trusted: {named(lost)}.")
        return tuple(notes)

    def rows(self) -> Rows:
        """Return one row a trait read today."""
        now = self.now
        if now is None:
            return ()
        rows = []
        for k, trait in enumerate(now.traits):
            if not now.read[k] or not self._trusted(trait):
                continue
            differs = "first day"
            if self._has_history(k):
                chance, way = self._side(trait)
                differs = f"{chance_words(chance)}: {way}"
            cells = (now.posterior.today, now.posterior.level)
            found = (amount_brief(trait, self.interval(m, trait), self.system) for m in cells)
            label = start_of_sentence(trait_label(trait))
            rows.append((label, str(int(now.read[k])), *found, differs))
        return tuple(rows)

    def cloud(self) -> Normal2D | None:
        """Return the tendency on the face; traits share no parameter, so it stands upright."""
        now = self.now
        if now is None or not {TOE, UP} <= set(now.traits):
            return None
        if not (self._trusted(TOE) and self._trusted(UP)):
            return None
        if not now.known_player and not (self._read(TOE) and self._read(UP)):
            return None
        k = [now.traits.index(t) for t in (TOE, UP)]
        mean, sd = now.posterior.level.average()[k], now.posterior.level.spread()[k]
        return cloud_of((float(mean[0]), float(mean[1])), np.diag(sd**2))

    def interval(self, mixture: Mixture, trait: str) -> Interval:
        """Return a trait's median and 90 % ends; the same shots always give the same numbers."""
        now = self._known()
        k = now.traits.index(trait)
        rng = np.random.default_rng([self._fit().info.seed, 5, k])
        low, median, high = mixture.quantiles(k, (0.05, 0.5, 0.95), rng)
        return Interval(float(median), float(low), float(high), TRAITS[trait].unit)

    def _away(self, trait: str) -> Floats:
        """Return draws of how far today lies from the tendency before; the same shots, the same."""
        now = self._known()
        k = now.traits.index(trait)
        return now.posterior.away(k, np.random.default_rng([self._fit().info.seed, 6, k]))

    def _side(self, trait: str) -> tuple[float, str]:
        """Return which way the day seems to differ, and the chance that it does."""
        above = float(np.mean(self._away(trait) > 0))
        words = TRAITS[trait].spoken
        return (above, words.more) if above >= 0.5 else (1 - above, words.less)

    def _size(self, trait: str, size: float) -> str:
        how = trait_display(trait, self.system)
        whole = how.unit == "mm" and size >= 1
        return value_text(size, how, decimals=0 if whole else None)

    def _has_history(self, k: int) -> bool:
        return bool(self._known().earlier[k])

    def _read(self, trait: str) -> bool:
        now = self._known()
        return bool(now.read[now.traits.index(trait)])

    def _trusted(self, trait: str) -> bool:
        """Return whether the fit of a trait is sound, and its draws still serve."""
        return self._follows(trait) and not self._fit().problems_of(trait)

    def _follows(self, trait: str) -> bool:
        now = self._known()
        return bool(now.posterior.trusted[now.traits.index(trait)])

    def _known(self) -> LiveFit:
        if self.now is None:
            raise ValueError("asked for words on an update that was not made")
        return self.now

    def _fit(self) -> Fit:
        if self.fit is None:
            raise ValueError("asked for words on a fit that was not made")
        return self.fit
