"""How a page of paper is set as PDF: from data, by a compiler that brings its own fonts."""

import json
from dataclasses import asdict, dataclass
from importlib.resources import files

from tracker.report.paper import Paper

PAPER_FONT = "Libertinus Serif"
"""The text font that the compiler brings along; pictures on paper use it too."""
SIZES_PT = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)
"""Sizes of the text, tried in turn until the paper keeps to its pages."""


@dataclass(frozen=True, slots=True)
class SetPaper:
    """A paper that was set: the PDF and how many pages it has."""

    pdf: bytes
    pages: int


def as_pdf(paper: Paper) -> SetPaper:
    """Set a paper in the largest text with which it keeps to its pages."""
    import typst  # here, since only who prints waits for it

    inputs, pages = _fitting(paper)
    pdf = typst.compile(_template(), format="pdf", sys_inputs=inputs, ignore_system_fonts=True)
    return SetPaper(bytes(pdf), pages)


def _fitting(paper: Paper) -> tuple[dict[str, str], int]:
    """Return what the compiler is given of a paper, and how many pages it then has."""
    import typst

    held, pages = json.dumps(asdict(paper)), 0
    inputs = {}
    for size in SIZES_PT:
        inputs = {"paper": held, "size": str(size)}
        found = typst.query(
            _template(), "<pages>", field="value", one=True,
            sys_inputs=inputs, ignore_system_fonts=True,
        )  # fmt: skip
        pages = int(json.loads(found))
        if pages <= paper.most_pages:
            break
    return inputs, pages


def _template() -> bytes:
    return files("tracker.report").joinpath("page.typ").read_bytes()
