"""A plan as a calendar: what other programs read from it, whatever names it holds."""

from datetime import UTC, date, datetime

from icalendar import Calendar

from tests.tracker.decisions.season.plans import design, plan_of, retest
from tracker.decisions.season.plan_calendar import plan_calendar

ODD = 'O\'Neil; "Bo", Jr\nDTSTART:19700101\\n'
WHEN = datetime(2026, 9, 1, 8, 0, tzinfo=UTC)


def calendar_of(name="Ann", **more):
    plan = plan_of({name: 5.0}, {name: retest(name, design(6, 0.85))}, **more)
    return plan_calendar(plan, "yards", WHEN)


def events(content):
    return list(Calendar.from_ical(content).walk("VEVENT"))


def test_each_block_is_one_event_of_whole_days():
    practice, again = events(calendar_of())
    assert str(practice["SUMMARY"]) == "Ann: practise tee ladder"
    assert (practice.decoded("DTSTART"), practice.decoded("DTEND")) == (
        date(2026, 9, 7), date(2026, 9, 21),
    )  # fmt: skip
    assert str(again["SUMMARY"]) == "Ann: retest strike height"
    assert again.decoded("DTSTART") == date(2026, 9, 21)


def test_there_is_no_place_and_no_time_is_blocked():
    for event in events(calendar_of()):
        assert "LOCATION" not in event
        assert str(event["TRANSP"]) == "TRANSPARENT"


def test_an_odd_name_stays_text():
    practice, _ = events(calendar_of(ODD))
    assert str(practice["SUMMARY"]).startswith(ODD)
    assert practice.decoded("DTSTART") == date(2026, 9, 7)


def test_identities_are_steady_differ_and_hold_no_name():
    first = [str(e["UID"]) for e in events(calendar_of())]
    later = [str(e["UID"]) for e in events(calendar_of(weeks=30, sessions=4))]
    assert first == later
    assert len(set(first)) == 2
    assert not any("Ann" in identity for identity in first)


def test_the_same_plan_gives_the_same_bytes_in_lines_of_75():
    content = calendar_of()
    assert content == calendar_of()
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
