"""In which form a paper leaves: PDF or one HTML file, told by the ending of its name."""

from dataclasses import dataclass

from tracker.report.html import as_html
from tracker.report.paper import Paper
from tracker.report.setting import as_pdf


@dataclass(frozen=True, slots=True)
class HandedOver:
    """A paper as a file, and how many pages it has; HTML is one page until it is printed."""

    content: bytes
    pages: int


def as_file(paper: Paper, ending: str) -> HandedOver:
    """Return a paper as the content of a file whose name ends in ``.pdf`` or ``.html``."""
    if ending.lower() == ".html":
        return HandedOver(as_html(paper).encode(), 1)
    made = as_pdf(paper)
    return HandedOver(made.pdf, made.pages)
