"""The pages that ``app.py`` registers, read from its text, so that no test keeps a list of its own.

``draw`` runs one of them alone. A page that is new is run by every test over ``NAMES`` at once.
"""

import ast
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True)
class RegisteredPage:
    """One page: its module in ``tracker/pages``, its link, and its place in the address."""

    module: str
    title: str
    path: str


def pages_of(source: str) -> tuple[RegisteredPage, ...]:
    """Return the pages of ``app.py``'s text in their order, the front page's second entry left out.

    Raises ValueError for a call of ``st.Page`` that is not ``st.Page(module.page, title="...",
    url_path="...")``.
    """
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or ast.unparse(node.func) != "st.Page":
            continue
        told = {word.arg: word.value for word in node.keywords}
        if "default" in told:
            continue
        target, title, path = (*node.args, told.get("title"), told.get("url_path"))
        if not (
            isinstance(target, ast.Attribute)
            and target.attr == "page"
            and isinstance(title, ast.Constant)
            and isinstance(path, ast.Constant)
        ):
            raise ValueError(f"line {node.lineno}: found {ast.unparse(node)}")
        found.append(RegisteredPage(ast.unparse(target.value), str(title.value), str(path.value)))
    return tuple(found)


PAGES = pages_of((ROOT / "app.py").read_text(encoding="utf-8"))
NAMES = tuple(page.module for page in PAGES)
WITHOUT_FIT = ("live", "load")
"""The pages that answer before anything is fitted; every other one says what to do first."""
WITH_FIT = tuple(name for name in NAMES if name not in WITHOUT_FIT)


PATIENCE_S = 3000.0
"""Nobody is timed here: a busy machine may take its time."""


def drawn_by(function: Callable[..., None], **arguments: Any) -> AppTest:
    """Return what a function draws, not run yet; the arguments as ``AppTest`` takes them."""
    return AppTest.from_function(function, **{"default_timeout": PATIENCE_S, **arguments})


def page_alone(name: str) -> AppTest:
    """Return a page that has not run yet, by its module's name."""
    script = f"from tracker.pages.{name} import page\n\npage()\n"
    return AppTest.from_string(script, default_timeout=PATIENCE_S)


def draw(name: str) -> AppTest:
    """Return a page that was run alone and raised nothing."""
    page = page_alone(name).run()
    assert not page.exception
    return page
