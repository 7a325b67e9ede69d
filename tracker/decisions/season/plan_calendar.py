"""A season's plan as a calendar file (RFC 5545): whole days, one event a block, no place.

The library escapes what names and notes hold. An event's identity is made from the player, the
lever and the kind of block alone, so that a plan made anew moves events where it had put them.
"""

from datetime import UTC, datetime
from typing import Final
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

from tracker.decisions.season.plan import Planned, SeasonPlan
from tracker.decisions.season.plan_words import block_text, block_title
from tracker.decisions.season.programme import Block
from tracker.units import System

PRODUCT: Final = "-//Drive Progress//Plan of the season//EN"
SPACE: Final = uuid5(NAMESPACE_URL, "drive-progress/plan")


def plan_calendar(plan: SeasonPlan, system: System, made_at: datetime) -> bytes:
    """Return the plan as the bytes of an ``.ics`` file; ``made_at`` has a time zone."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for one in plan.planned:
        for block in one.blocks:
            calendar.add_component(_event(one, block, system, made_at))
    return bytes(calendar.to_ical())


def event_identity(one: Planned, block: Block) -> str:
    """Return an event's identity, which holds no name."""
    return f"{uuid5(SPACE, f'{one.programme.key}\n{block.kind}')}@drive-progress"


def _event(one: Planned, block: Block, system: System, made_at: datetime) -> Event:
    event = Event()
    event.add("uid", event_identity(one, block))
    event.add("dtstamp", made_at.astimezone(UTC))
    event.add("summary", block_title(one, block))
    event.add("description", block_text(one, block, system))
    event.add("dtstart", block.start)
    event.add("dtend", block.end)
    event.add("transp", "TRANSPARENT")
    return event
