"""What stands on a page of paper, before it is set: plain text, drawings and tables.

Every text is data. Nothing in it is read as markup by whoever sets the page.
"""

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture as SVG, the line under it, and what it shows for those who cannot see it."""

    svg: str
    caption: str
    words: str


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under their headings."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A heading with what stands below it: sentences, a list, a table."""

    heading: str
    sentences: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    table: Table | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    """A page that is handed over, from top to bottom."""

    title: str
    about: str
    """Of what and of when it is."""
    problems: tuple[str, ...]
    """What is wrong with the fit; it stands before any number."""
    headline: str
    lead: str
    drawings: tuple[Drawing, ...]
    """They stand side by side."""
    parts: tuple[Part, ...]
    cautions: tuple[str, ...]
    source: str
    """The data and the fit behind it."""
    most_pages: int


def with_about(paper: Paper, sentence: str) -> Paper:
    """Return a paper that says one more thing, first, of what and of when it is."""
    return replace(paper, about=f"{sentence} {paper.about}")
