"""A shot log in: units, signs, order of shots, and every kind of bad file."""

import csv
import io
from datetime import date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.errors import FileRefused, RowProblem
from tracker.files.csv_table import original_cell, safe_cell
from tracker.files.shot_log import read_shots

TODAY = date(2026, 6, 30)


def log(*lines: str) -> bytes:
    return "\n".join(lines).encode() + b"\n"


def read(*lines: str, skip_bad: bool = False):
    return read_shots(log(*lines), today=TODAY, skip_bad=skip_bad)


def refused(data: bytes) -> FileRefused:
    with pytest.raises(FileRefused) as caught:
        read_shots(data, today=TODAY)
    return caught.value


def only_problem(*lines: str) -> RowProblem:
    error = refused(log(*lines))
    assert len(error.problems) == 1, error.problems
    return error.problems[0]


# --- good files ---


def test_every_unit_ending_is_stored_in_its_si_unit():
    # 1 in = 25.4 mm and 1 yd = 0.9144 m exactly (international yard and pound agreement, 1959),
    # so 1 mph = 1609.344 m / 3600 s = 0.44704 m/s exactly; 100 F = 37.777... C
    text = (
        "player,session,strike_toe_in,strike_up_cm,club_speed_mph,ball_speed_kmh,carry_yd,"
        "tee_height_in,air_temperature_f,altitude_yd",
        "Ann,2026-05-31,0.5,-1.2,100,252,250,1.5,100,1000",
    )
    shot = read(*text).shots[0]
    assert shot.readings["strike_toe_mm"] == pytest.approx(12.7, rel=1e-12)
    assert shot.readings["strike_up_mm"] == pytest.approx(-12.0, rel=1e-12)
    assert shot.readings["club_speed_mps"] == pytest.approx(44.704, rel=1e-12)
    assert shot.readings["ball_speed_mps"] == pytest.approx(70.0, rel=1e-12)
    assert shot.readings["carry_m"] == pytest.approx(228.6, rel=1e-12)
    assert shot.tee_height_mm == pytest.approx(38.1, rel=1e-12)
    assert shot.air_temperature_c == pytest.approx(37.7777777777778, rel=1e-12)
    assert shot.altitude_m == pytest.approx(914.4, rel=1e-12)


def test_signs_of_a_left_hander_are_kept_as_written():
    rows = read("player,session,handed,strike_toe_mm,path_deg", "Lou,2026-05-31,left,-7.5,+2.25")
    assert rows.shots[0].readings == {"strike_toe_mm": -7.5, "path_deg": 2.25}
    assert rows.shots[0].handed == "left"


def test_columns_left_out_and_empty_cells_take_their_defaults():
    shot = read("player,session,strike_toe_mm,attack_deg", "Ann,2026-05-31,,-1.5").shots[0]
    assert shot.readings == {"attack_deg": -1.5}
    assert (shot.club, shot.handed, shot.number) == ("driver", "right", 1)
    assert (shot.strike_method, shot.delivery_method) == ("unstated", "unstated")
    assert (shot.missed_face, shot.ball, shot.note, shot.altitude_m) == (False, None, None, None)


def test_group_and_coach_are_free_words_kept_as_written():
    rows = read(
        "player,session,attack_deg,group,coach",
        "Ann,2026-05-31,1, A  team ,Kim",
        "Bo,2026-05-31,1,,",
    )
    assert [(s.group, s.coach) for s in rows.shots] == [("A team", "Kim"), (None, None)]


def test_texts_are_trimmed_and_methods_and_club_lower_cased():
    shot = read(
        "Player , SESSION,Club,strike_method,delivery_method,attack_deg,note",
        "  Ann   Lee ,2026-05-31, Driver, Spray ,Radar Unit,1,  early start ",
    ).shots[0]
    assert (shot.player, shot.club, shot.note) == ("Ann Lee", "driver", "early start")
    assert (shot.strike_method, shot.delivery_method) == ("spray", "radar unit")


def test_a_name_typed_with_composed_and_separate_accents_is_one_player():
    composed, separate = "Ren\u00e9e", "Rene\u0301e"
    rows = read("player,session,attack_deg", f"{composed},2026-05-30,1", f"{separate},2026-05-31,2")
    assert {shot.player for shot in rows.shots} == {composed}


def test_shots_without_number_are_counted_within_player_session_and_club():
    rows = read(
        "player,session,club,attack_deg",
        "Ann,2026-05-31,driver,1",
        "Bo,2026-05-31,driver,2",
        "Ann,2026-05-31,driver,3",
        "Ann,2026-05-31,3-wood,4",
        "Ann,2026-06-01,driver,5",
        "Ann,2026-05-31,driver,6",
    )
    assert list(rows.frame["number"]) == [1, 1, 2, 1, 1, 3]


def test_a_session_is_a_date_or_a_local_time():
    rows = read(
        "player,session,attack_deg",
        "Ann,2026-05-31,1",
        "Ann,2026-05-31T14:30,1",
        "Ann,2026-05-31 14:30:15,1",
    )
    assert [s.session for s in rows.shots] == [
        datetime(2026, 5, 31),
        datetime(2026, 5, 31, 14, 30),
        datetime(2026, 5, 31, 14, 30, 15),
    ]


def test_a_missed_face_needs_no_reading_and_is_not_a_missing_one():
    rows = read(
        "player,session,strike_toe_mm,missed_face", "Ann,2026-05-31,,Yes", "Ann,2026-05-31,1,no"
    )
    assert [shot.missed_face for shot in rows.shots] == [True, False]
    assert rows.shots[0].readings == {}


def test_byte_order_mark_crlf_blank_and_empty_rows_are_passed_over():
    data = "\ufeffplayer,session,attack_deg\r\nAnn,2026-05-31,1\r\n\r\n,,\r\nAnn,2026-05-31,2\r\n"
    rows = read_shots(data.encode(), today=TODAY)
    assert rows.lines == (2, 5)
    assert rows.row_count == 2
    assert list(rows.frame["attack_deg"]) == [1.0, 2.0]


def test_a_quoted_note_may_hold_commas_quotes_and_line_ends():
    rows = read(
        "player,session,attack_deg,note", 'Ann,2026-05-31,1,"a, ""b""', 'c"', "Bo,2026-05-31,2,"
    )
    assert rows.shots[0].note == 'a, "b"\nc'
    assert rows.lines == (2, 4)


def test_a_range_end_written_in_another_unit_is_inside():
    # 70 m/s = 252 km/h and 15 m/s = 54 km/h are the ends of club speed
    rows = read("player,session,club_speed_kmh", "Ann,2026-05-31,252", "Ann,2026-05-31,54")
    assert list(rows.frame["club_speed_mps"]) == pytest.approx([70.0, 15.0])


# --- bad cells: line, column, found, wanted ---


def test_every_strike_that_was_read_and_missed_is_told():
    rows = ("Ann,2026-05-31,1,yes", "Ann,2026-05-31,,yes", "Ann,2026-05-31,2,yes")
    problems = refused(log("player,session,strike_toe_mm,missed_face", *rows)).problems
    told = [(p.line, p.column, p.found) for p in problems]
    assert told == [(2, "missed_face", "yes"), (4, "missed_face", "yes")]


def test_sessions_from_1980_to_today_are_taken_and_no_day_beside():
    head = "player,session,attack_deg"
    dates = ("1980-01-01", "2026-06-30", "2026-06-30T23:59")
    rows = read(head, *(f"Ann,{d},1" for d in dates))
    assert [s.session.isoformat() for s in rows.shots] == [
        "1980-01-01T00:00:00", "2026-06-30T00:00:00", "2026-06-30T23:59:00",
    ]  # fmt: skip
    outside = ("1979-12-31", "2026-07-01", "2026-07-01T00:00")
    problems = refused(log(head, *(f"Ann,{d},1" for d in outside))).problems
    assert [p.line for p in problems] == [2, 3, 4]
    assert {p.wanted for p in problems} == {"a date from 1980-01-01 to 2026-06-30"}


def test_shots_are_numbered_up_to_999_999():
    rows = read("player,session,shot,attack_deg", "Ann,2026-05-31,1,2", "Ann,2026-05-31,999999,2")
    assert [s.number for s in rows.shots] == [1, 999_999]
    (problem,) = refused(log("player,session,shot,attack_deg", "Ann,2026-05-31,1000000,2")).problems
    assert problem.wanted == "a whole number from 1 to 999999"


HEAD = "player,session,strike_toe_mm,attack_deg,spin_rpm,missed_face,handed,shot"
GOOD = "Ann,2026-05-31,1,2,2600,,,1"


@pytest.mark.parametrize(
    ("row", "column", "found", "wanted"),
    [
        (",2026-05-31,1,2,,,,2", "player", "", "a player's name"),
        ("A\x07nn,2026-05-31,1,2,,,,2", "player", "A\x07nn", "without control characters"),
        ("Ann,,1,2,,,,2", "session", "", "a date such as 2026-05-31"),
        ("Ann,31/05/2026,1,2,,,,2", "session", "31/05/2026", "a date such as 2026-05-31"),
        ("Ann,20260531,1,2,,,,2", "session", "20260531", "a date such as 2026-05-31"),
        ("Ann,2026-02-30,1,2,,,,2", "session", "2026-02-30", "a date such as 2026-05-31"),
        ("Ann,2026-05-31T24:61,1,2,,,,2", "session", "2026-05-31T24:61", "a date such as"),
        ("Ann,2026-07-01,1,2,,,,2", "session", "2026-07-01", "1980-01-01 to 2026-06-30"),
        ("Ann,1026-05-31,1,2,,,,2", "session", "1026-05-31", "1980-01-01 to 2026-06-30"),
        (
            "Ann,2026-05-31T14:30+02:00,1,2,,,,2",
            "session",
            "2026-05-31T14:30+02:00",
            "the local time without a time zone, such as 2026-05-31T14:30",
        ),
        (
            "Ann,2026-05-31T14:30:05Z,1,2,,,,2",
            "session",
            "2026-05-31T14:30:05Z",
            "the local time without a time zone, such as 2026-05-31T14:30:05",
        ),
        ("Ann,2026-05-31,toe,2,,,,2", "strike_toe_mm", "toe", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,nan,2,,,,2", "strike_toe_mm", "nan", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,inf,2,,,,2", "strike_toe_mm", "inf", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,1e999,2,,,,2", "strike_toe_mm", "1e999", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,1_0,2,,,,2", "strike_toe_mm", "1_0", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,N/A,2,,,,2", "strike_toe_mm", "N/A", "or an empty cell"),
        ("Ann,2026-05-31,61,2,,,,2", "strike_toe_mm", "61", "a number from -60 to 60 mm"),
        ("Ann,2026-05-31,1,-15.1,,,,2", "attack_deg", "-15.1", "a number from -15 to 15 deg"),
        ("Ann,2026-05-31,1,2,-1,,,2", "spin_rpm", "-1", "a number from 0 to 14000 rpm"),
        ('Ann,2026-05-31,"1,5",2,,,,2', "strike_toe_mm", "1,5", "a decimal point"),
        ('Ann,2026-05-31,1,2,"2,600",,,2', "spin_rpm", "2,600", "no other marks"),
        ("Ann,2026-05-31,,2,,maybe,,2", "missed_face", "maybe", "yes, no or an empty cell"),
        ("Ann,2026-05-31,1,2,,yes,,2", "missed_face", "yes", "a strike that was read"),
        ("Ann,2026-05-31,,,,no,,2", "readings", "", "at least one reading"),
        ("Ann,2026-05-31,1,2,,,both,2", "handed", "both", "right, left or an empty cell"),
        ("Ann,2026-05-31,1,2,,,,0", "shot", "0", "a whole number from 1"),
        ("Ann,2026-05-31,1,2,,,,2.5", "shot", "2.5", "a whole number from 1"),
        ("Ann,2026-05-31,1,2,,,,", "shot", "", "as in this session's other rows"),
        ("Ann,2026-05-31,1,2,,,,1", "shot", "Ann, 2026-05-31, driver, shot 1", "on line 2"),
        ("Ann,2026-05-31,1,2,,,", "row", "7 cells", "8 cells"),
        ("Ann,2026-05-31,1,2,,,,2,9", "row", "9 cells", "8 cells"),
        ('Ann,2026-05-31,"1"x,2,,,,2', "quotes", "',' expected after '\"'", "every quote closed"),
        ('"Ann,2026-05-31,1,2,,,,2', "quotes", "unexpected end of data", "every quote closed"),
    ],
)
def test_a_bad_cell_is_named_with_line_column_found_and_wanted(row, column, found, wanted):
    problem = only_problem(HEAD, GOOD, row)
    assert (problem.line, problem.column, problem.found) == (3, column, found)
    assert wanted in problem.wanted


def test_a_hand_that_differs_for_one_player_points_at_the_first():
    problem = only_problem(
        "player,session,attack_deg,handed", "Ann,2026-05-30,1,left", "Ann,2026-05-31,1,right"
    )
    assert problem == RowProblem(3, "handed", "right", "left, as on line 2 for Ann")


def test_a_range_is_told_in_the_unit_of_the_file():
    # 15 to 70 m/s are 33.554... to 156.586... mph, ends rounded inward
    problem = only_problem("player,session,club_speed_mph", "Ann,2026-05-31,160")
    assert problem == RowProblem(
        2, "club_speed_mph", "160", "a number from 33.6 to 156.5 mph, or an empty cell"
    )
    # -30 to 60 C are -22 to 140 F
    problem = only_problem("player,session,attack_deg,air_temperature_f", "Ann,2026-05-31,1,141")
    assert problem.wanted == "a number from -22 to 140 °F, or an empty cell"


def test_a_stray_quote_costs_its_own_line_only():
    rows = read(
        "player,session,attack_deg,note",
        'Ann,2026-05-31,1,"left open',
        "Ann,2026-05-31,2,fine",
        'Ann,2026-05-31,3,"quoted"',
        skip_bad=True,
    )
    assert list(rows.frame["attack_deg"]) == [2.0, 3.0]
    assert [(p.line, p.column) for p in rows.problems] == [(2, "quotes")]


# --- bad headers ---


@pytest.mark.parametrize(
    ("header", "column", "wanted"),
    [
        ("player,session,attack_deg,attack_deg", "attack_deg", "each column once"),
        ("player,session,carry_m,carry_yd", "carry_yd", "one unit for one quantity: carry_m"),
        ("player,session,attack_deg,atack_deg", "atack_deg", "the closest is attack_deg"),
        ("player,session,attack_deg,plaier", "plaier", "the closest is player"),
        ("player,session,attack_deg,carry_ft", "carry_ft", "carry_m or carry_yd"),
        ("player,session,attack_deg,spin", "spin", "spin_rpm"),
        ("player,session,attack_deg,zzz", "zzz", "the column left out"),
        ("player,session,attack_deg,", "header", "the column left out"),
        ("player,when,attack_deg,session", "when", "the column left out"),
    ],
)
def test_a_header_that_cannot_be_used_is_explained(header, column, wanted):
    problem = only_problem(
        header, "Ann,2026-05-31,1,2" if "when" not in header else "Ann,,1,2026-05-31"
    )
    assert (problem.line, problem.column) == (1, column)
    assert wanted in problem.wanted


def test_missing_required_columns_are_all_listed():
    error = refused(log("name,attack_deg", "Ann,1"))
    found = {(p.line, p.column): p.wanted for p in error.problems}
    assert found[1, "player"] == "a column named player"
    assert found[1, "session"] == "a column named session"
    assert (1, "name") in found


def test_a_log_without_any_trait_is_refused():
    problem = only_problem("player,session,note", "Ann,2026-05-31,hello")
    assert problem.column == "header"
    assert "at least one column of readings" in problem.wanted


# --- files that are no table ---


@pytest.mark.parametrize(
    ("data", "line", "found", "wanted"),
    [
        (b"", 0, "an empty file", "a header row"),
        (b"\n \n\n", 0, "an empty file", "a header row"),
        (b"\xef\xbb\xbf", 0, "an empty file", "a header row"),
        (b"player,session,attack_deg\n", 0, "a header and no rows", "at least one row"),
        ("player,session\n".encode("utf-16"), 0, "UTF-16 text", "CSV UTF-8"),
        ("player,session\n".encode("utf-16-le"), 1, "a NUL byte", "UTF-16 without its mark"),
        (b"player,session,attack_deg\nAnn,2026-05-31,1\nB\0,", 3, "a NUL byte", "damaged"),
        ("player,session\nRen\u00e9e".encode("latin-1"), 2, "byte 0xE9", "CSV UTF-8"),
        (b"\xef\xbb\xbfa\nb\nRen\xe9e", 3, "byte 0xE9", "CSV UTF-8"),
        (b"PK\x03\x04rest", 0, "a workbook or archive", "CSV UTF-8"),
        (b"player;session;attack_deg\nAnn;2026-05-31;1,5\n", 1, "semicolons", "commas between"),
        (b"player\tsession\nAnn\t2026-05-31\n", 1, "tabs", "commas between"),
        (b'"player,session\n', 1, "unexpected end of data", "quotes closed"),
    ],
)
def test_a_file_that_is_no_table_says_what_it_is_and_what_to_do(data, line, found, wanted):
    error = refused(data)
    assert error.summary == "The file cannot be read, so nothing was stored:"
    (problem,) = error.problems
    assert (problem.line, problem.column) == (line, "the file")
    assert found in problem.found
    assert wanted in problem.wanted


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path):
    with pytest.raises(FileRefused, match=r"none\.csv \(No such file or directory\)"):
        read_shots(tmp_path / "none.csv", today=TODAY)
    with pytest.raises(FileRefused, match="Is a directory"):
        read_shots(tmp_path, today=TODAY)


def test_a_cell_beyond_the_readers_limit_is_a_problem_of_its_row():
    problem = only_problem("player,session,attack_deg,note", f"Ann,2026-05-31,1,{'x' * 200_000}")
    assert (problem.line, problem.column) == (2, "quotes")
    assert "field larger than field limit" in problem.found


# --- the message ---


def test_the_summary_counts_rows_and_says_that_nothing_was_stored():
    error = refused(
        log(
            "player,session,attack_deg,spin_rpm",
            "Ann,2026-05-31,x,y",
            "Ann,2026-05-31,1,2600",
            "Ann,2026-05-31,99,2600",
        )
    )
    assert str(error) == (
        "2 of 3 rows cannot be used, so nothing was stored:\n"
        "  line 2, attack_deg: found 'x', wanted a number from -15 to 15 deg, or an empty cell\n"
        "  line 2, spin_rpm: found 'y', wanted a number from 0 to 14000 rpm, or an empty cell\n"
        "  line 4, attack_deg: found '99', wanted a number from -15 to 15 deg, or an empty cell"
    )


def test_header_and_row_problems_are_listed_at_once():
    error = refused(log("player,session,attack_deg,ball_sped_mph", "Ann,2026-05-31,99,140"))
    assert error.summary == "1 column and 1 of 1 row cannot be used, so nothing was stored:"
    assert [(p.line, p.column) for p in error.problems] == [
        (1, "ball_sped_mph"),
        (2, "attack_deg"),
    ]


def test_a_long_list_is_cut_in_the_message_and_kept_in_the_exception():
    error = refused(log("player,session,attack_deg", *["Ann,2026-05-31,x"] * 57))
    assert len(error.problems) == 57
    assert len(str(error).splitlines()) == 22
    assert str(error).endswith("\n  and 37 more problems")


# --- skipping bad rows ---


def test_rejected_rows_keep_their_cells_and_say_why():
    rows = read(
        "player,session,strike_toe_mm,note",
        "Ann,2026-05-31,1,first",
        "Ann,2026-05-31,99,=SUM(A1)",
        "Ann,2026-05-31,3,third",
        "Ann,2026-05-31,4,last,surplus",
        skip_bad=True,
    )
    assert list(rows.frame["number"]) == [1, 3]
    assert rows.row_count == 4
    assert rows.rejected is not None
    first, second = csv.DictReader(io.StringIO(rows.rejected.decode()))
    assert first == {
        "player": "Ann",
        "session": "2026-05-31",
        "strike_toe_mm": "99",
        "note": "'=SUM(A1)",
        "shot": "2",
        "why": "line 3, strike_toe_mm: found '99', wanted a number from -60 to 60 mm, "
        "or an empty cell",
    }
    assert second["note"] == "last"
    assert second["shot"] == ""
    assert second["why"].endswith("surplus cells: 'surplus'")


def test_a_rejected_file_put_right_reads_back_as_the_shots_it_lacked():
    lines = (
        "player,session,strike_toe_mm,note",
        "Ann,2026-05-31,1,",
        "Ann,2026-05-31,99,=SUM(A1)",
        "Ann,2026-05-31,3,",
    )
    rejected = read(*lines, skip_bad=True).rejected
    assert rejected is not None
    again = read_shots(rejected.replace(b",99,", b",9.9,"), today=TODAY)
    whole = read(*(line.replace("99", "9.9") for line in lines))
    assert again.shots == whole.shots[1:2]


def test_skipping_does_not_help_a_header_that_cannot_be_used():
    with pytest.raises(FileRefused, match="1 column cannot be used"):
        read("player,session,attack_deg,zzz", "Ann,2026-05-31,1,2", skip_bad=True)


@pytest.mark.parametrize("text", ["=1+1", "+x", "-cmd", "@a", "'=1", "''@b", "\tx", "--5", "-1,5"])
def test_a_cell_a_spreadsheet_would_run_gets_a_quote_that_comes_off_again(text):
    assert safe_cell(text) == f"'{text}"
    assert original_cell(safe_cell(text)) == text


@pytest.mark.parametrize("text", ["-1.5", "+2", "Ann", "'quoted'", "", "2026-05-31"])
def test_numbers_and_plain_words_are_written_as_they_are(text):
    assert safe_cell(text) == text
    assert original_cell(text) == text


def test_formula_like_text_is_data():
    shot = read("player,session,attack_deg,note", "@Ann,2026-05-31,1,=1+1").shots[0]
    assert (shot.player, shot.note) == ("@Ann", "=1+1")


def test_missing_readings_are_nan_in_the_table():
    frame = read("player,session,attack_deg", "Ann,2026-05-31,1").frame
    assert np.isnan(frame["carry_m"]).all()
    assert frame["carry_m"].dtype == np.float64


HEADER = b"player,session,attack_deg,note\n"
SCRAPS = ["Ann", "2026-05-31", "1.5", "-99", "=x", ",", ",", ",", '"', "\n", "\r", "\r\n", " ", "é"]


@settings(max_examples=300)
@given(st.lists(st.sampled_from(SCRAPS), max_size=60).map(lambda parts: "".join(parts).encode()))
def test_every_row_of_a_spoilt_file_is_either_stored_or_rejected_with_its_line(scraps):
    if not scraps.translate(None, b',"').split():
        assert refused(HEADER + scraps).problems
        return
    rows = read_shots(HEADER + scraps, today=TODAY, skip_bad=True)
    bad_lines = {problem.line for problem in rows.problems}
    assert len(rows.frame) + len(bad_lines) == rows.row_count
    assert bad_lines.isdisjoint(rows.lines)
    if bad_lines:
        assert rows.rejected is not None
        rejected = list(csv.DictReader(io.StringIO(rows.rejected.decode(), newline="")))
        assert len(rejected) == len(bad_lines)
        assert all(row["why"] for row in rejected)


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_a_file_of_any_bytes_is_refused_in_words(data):
    error = refused(data)
    assert all(problem.wanted for problem in error.problems)
    assert error.problems
