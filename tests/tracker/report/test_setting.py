"""The paper as a page: looked at as an image, to its pages, names set as they are written."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
import typst
from PIL import Image

from tests.tracker.report.papers import paper
from tracker.report import setting
from tracker.report.paper import Part, Table
from tracker.report.setting import as_pdf

HOSTILE = (
    '#eval("1")', "[/bold] Bob", "<script>alert(1)</script>", "$x$", "*Ann*", "_Ann_", "@ref",
    "= Ann", "- Ann", "#include \"a.typ\"", "\\u{41}", "`x`", "// Ann", "Ann\\", "~", "<label>",
)  # fmt: skip


def images(made):
    """Return the pages of a paper as pictures, as they would be printed."""
    inputs, number = setting._fitting(made)
    drawn = typst.compile(
        setting._template(), format="png", ppi=60, sys_inputs=inputs, ignore_system_fonts=True
    )
    found = [Image.open(io.BytesIO(one)) for one in (drawn if number > 1 else [drawn])]
    assert len(found) == number
    return found


def pages(made):
    return [np.asarray(image.convert("L")) for image in images(made)]


def headings(made):
    """Return the text of every heading of a paper, as the compiler has understood it."""
    inputs, _ = setting._fitting(made)
    found = typst.query(setting._template(), "heading", sys_inputs=inputs, ignore_system_fonts=True)
    return [one["body"].get("text") for one in json.loads(found)]


def test_paper_is_one_page_that_is_not_blank_and_leaves_its_margins():
    (page,) = pages(paper())
    ink = page < 200
    assert page.shape[0] / page.shape[1] == pytest.approx(297 / 210, rel=0.01)  # A4
    assert 0.005 < ink.mean() < 0.5
    margin = int(page.shape[1] * 12 / 210)  # 17 mm are left free
    assert not ink[:, :margin].any()
    assert not ink[:, -margin:].any()


def test_drawings_stand_side_by_side_in_colour():
    image = images(paper())[0].convert("RGB")
    accent = np.all(np.abs(np.asarray(image).astype(int) - (27, 127, 158)) < 12, axis=2)
    columns = accent.sum(axis=0) > 20
    assert columns[: image.width // 2].mean() > 0.5
    assert columns[image.width // 2 :].mean() > 0.5


def test_pdf_is_one_and_says_its_pages():
    made = as_pdf(paper())
    assert made.pdf.startswith(b"%PDF-")
    assert made.pages == 1
    assert len(made.pdf) < 100_000


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_set_as_it_is_written(name):
    assert headings(paper(name))[0] == name


def test_a_name_that_is_markup_elsewhere_gives_another_page_than_its_result_would():
    assert (pages(paper('#eval("1")'))[0] != pages(paper("1"))[0]).any()


def test_long_paper_is_set_smaller_rather_than_on_more_pages():
    lines = tuple(
        f"Sentence {i} of quite some length that tells one more thing." for i in range(45)
    )
    long = replace(paper(), parts=(Part("Much", lines),))
    assert as_pdf(long).pages == 1
    (page,) = pages(long)
    assert (page < 200).mean() > (pages(paper())[0] < 200).mean()


def test_table_of_a_squad_may_take_two_pages():
    rows = tuple((f"Player {i}", "tee it higher", "+3 yd (+1 to +5)") for i in range(60))
    made = replace(
        paper(),
        parts=(Part("First", table=Table(("Player", "Lever", "Gain"), rows)),),
        most_pages=2,
    )
    assert as_pdf(made).pages == 2


def test_problems_stand_above_the_answer():
    clean = pages(paper(drawings=()))[0]
    doubtful = pages(paper(drawings=(), problems=("chains disagree.",)))[0]
    top = int(clean.shape[0] * 0.2)
    assert (doubtful[:top] < 200).sum() > (clean[:top] < 200).sum()
