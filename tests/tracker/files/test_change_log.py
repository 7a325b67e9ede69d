"""Logged changes in: what a row means, and every kind of bad row."""

from datetime import date

import pytest

from tracker.errors import FileRefused
from tracker.files.change_log import read_changes
from tracker.records import Change

TODAY = date(2026, 6, 30)


def log(*lines: str) -> bytes:
    return "\n".join(lines).encode() + b"\n"


CHANGES = "player,start,kind,name,trait,effort_sessions,note"


def test_changes_are_read_with_their_empty_cells():
    read_in = read_changes(
        log(
            CHANGES,
            "Ann,2026-05-01,Drill,Low tee,strike_up_mm,3.5,slow first",
            "Ann,2026-08-01,equipment,Longer shaft,,,",
        ),
        today=TODAY,
    )
    assert read_in.changes == (
        Change("Ann", date(2026, 5, 1), "drill", "Low tee", "strike_up_mm", 3.5, "slow first"),
        Change("Ann", date(2026, 8, 1), "equipment", "Longer shaft"),
    )


@pytest.mark.parametrize(
    ("row", "column", "found", "wanted"),
    [
        ("Ann,2026-05-01,lesson,x,,,", "kind", "lesson", "drill or equipment or setup"),
        ("Ann,2026-05-01,drill,,,,", "name", "", "plain text"),
        ("Ann,01.05.2026,drill,x,,,", "start", "01.05.2026", "a date such as 2026-05-31"),
        ("Ann,2062-05-01,drill,x,,,", "start", "2062-05-01", "1980-01-01 to 2027-07-01"),
        ("Ann,2026-05-01,drill,x,attack,,", "trait", "attack", "the closest is attack_deg"),
        ("Ann,2026-05-01,drill,x,carry_m,,", "trait", "carry_m", "a trait that is followed"),
        ("Ann,2026-05-01,drill,x,,0,", "effort_sessions", "0", "above 0 and up to 200"),
        ("Ann,2026-05-01,drill,x,,two,", "effort_sessions", "two", "above 0 and up to 200"),
        ("Bo,2026-05-01,drill,y,,,", "name", "y", "it is on line 2 already"),
        ("Ann,2026-05-01,drill", "row", "3 cells", "7 cells"),
    ],
)
def test_a_bad_change_is_named_with_line_column_found_and_wanted(row, column, found, wanted):
    with pytest.raises(FileRefused) as caught:
        read_changes(log(CHANGES, "Bo,2026-05-01,drill,y,,,", row), today=TODAY)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column, problem.found) == (3, column, found)
    assert wanted in problem.wanted


def test_changes_from_1980_to_a_year_ahead_are_taken_and_no_day_beside():
    dates = ("1980-01-01", "2027-07-01")  # 366 days after 30 June 2026
    found = read_changes(log(CHANGES, *(f"Ann,{d},drill,x,,," for d in dates)), today=TODAY)
    assert [c.start.isoformat() for c in found.changes] == list(dates)
    outside = (f"Ann,{d},drill,x,,," for d in ("1979-12-31", "2027-07-02"))
    with pytest.raises(FileRefused) as caught:
        read_changes(log(CHANGES, *outside), today=TODAY)
    assert [p.line for p in caught.value.problems] == [2, 3]


def test_a_file_of_shots_is_not_taken_for_changes():
    with pytest.raises(FileRefused) as caught:
        read_changes(log("player,session,attack_deg", "Ann,2026-05-31,1"), today=TODAY)
    assert {p.column for p in caught.value.problems} >= {"session", "attack_deg", "start", "kind"}
