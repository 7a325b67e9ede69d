"""A table for a spreadsheet is data throughout."""

import csv
import io

import pytest

from tracker.files.table_file import table_csv


def read(content):
    return list(csv.reader(io.StringIO(content.decode("utf-8"))))


def test_texts_that_would_run_get_a_quote_and_numbers_stay_numbers():
    rows = [["=1+1", -2.5, 3], ["@SUM(A1)", 0.12345, None], ["\tx", 1e-9, 0], ["-x", 2.0, -1]]
    assert read(table_csv(["player", "effect", "n"], rows)) == [
        ["player", "effect", "n"],
        ["'=1+1", "-2.5", "3"],
        ["'@SUM(A1)", "0.1235", ""],
        ["'\tx", "0", "0"],
        ["'-x", "2", "-1"],
    ]


def test_commas_quotes_and_lines_inside_a_cell_come_back():
    odd = 'a, "b"\nc'
    assert read(table_csv(["x"], [[odd]])) == [["x"], [odd]]


def test_a_row_of_another_length_is_refused():
    with pytest.raises(ValueError, match="2 cells under 1"):
        table_csv(["x"], [["a", "b"]])
