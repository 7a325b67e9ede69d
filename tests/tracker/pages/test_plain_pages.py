"""Names, drills, notes and files are data on every page: shown as typed, never read as Markdown."""

import ast
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest
from markdown_it import MarkdownIt

from tests.fits import day, make_fit, noise
from tests.hostile import HOSTILE
from tests.pages import NAMES, draw, drawn_by
from tests.tracker.pages.academy import BALLS, keep
from tracker.errors import RowProblem
from tracker.pages.load import LoadView
from tracker.plain import JOINER, line
from tracker.readings.shot_frame import tidy
from tracker.records import Change, Shot
from tracker.store.store import Store

ROOT = Path(__file__).parents[3]
MARKDOWN = MarkdownIt("commonmark").enable(["table", "strikethrough"])
PLAYER = "[/bold] ![t](http://127.0.0.1:9/x.png) <img src=x> $x$ :red[a] a|b **x** `v` _u_"
OTHER = "Ben [coach] :material/home: :smile: www.example.org a@b.co ~~w~~ &amp; right\u202eto"
DRILL = "[tee](http://127.0.0.1:9/d) *higher* $y$ :blue[b]"
SOURCE = "![f](http://127.0.0.1:9/f.png) [log].csv"


@pytest.fixture
def hostile(store):
    levels = {
        PLAYER: {"strike_up_mm": [-8.0, -8.2, -4.0, -3.8], "strike_toe_mm": 3.0},
        OTHER: {"strike_up_mm": 2.0, "strike_toe_mm": -2.0},
    }
    changes = (
        Change(PLAYER, day(10), "drill", DRILL, "strike_up_mm", 4, note=DRILL),
        Change(OTHER, day(10), "drill", DRILL, "strike_toe_mm", 4),
    )
    renamed = {"Cedar": PLAYER, "Alder": OTHER}
    fit = make_fit(
        levels,
        physics={"drag_factor": 0.98 + 0.005 * noise(400, seed=9)},
        ball_check=tuple((trait, renamed[who], *rest) for trait, who, *rest in BALLS),
        changes=changes,
        change_effect={0: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=5)}},
        drill_effect={DRILL: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=2)}},
    )
    shots = [
        Shot(name, datetime(2026, 1, 5 + 7 * s), n, {"strike_up_mm": 2.0 - n, "strike_toe_mm": 3.0})
        for name in (PLAYER, OTHER)
        for s in range(4)
        for n in (1, 2, 3)
    ]
    shots.append(replace(shots[0], number=9, strike_method=tidy(DRILL)))
    store.add_shots(shots, source=SOURCE)
    store.add_changes(changes)
    keep(store, fit)
    return store


def markdown_of(page):
    """Return every text that the browser reads as Markdown."""
    kinds = ("title", "header", "subheader", "markdown", "caption", "info", "warning", "error")
    found = [e.value for kind in (*kinds, "success") for e in page.get(kind)]
    widgets = ("button", "checkbox", "selectbox", "text_input", "number_input", "slider")
    found += [e.label for kind in (*widgets, "expander", "toggle") for e in page.get(kind)]
    for table in page.table:
        shown = table.value if isinstance(table.value, pd.DataFrame) else pd.DataFrame(table.value)
        found += [str(name) for name in shown.columns]
        found += [str(cell) for cell in shown.to_numpy().ravel()]
    return found


def drawn(page):
    """Return the page's text as Markdown draws it; a link, picture, tag or formula is an error."""
    said = []
    for text in markdown_of(page):
        ours = text.replace("`drive-progress", "").count("`") == 0
        for token in MARKDOWN.parse(text):
            assert token.type not in {"html_block", "fence", "code_block", "blockquote_open"}, text
            kinds = {child.type for child in token.children or ()}
            assert not kinds & {"link_open", "image", "html_inline", "s_open"}, text
            assert not ours or "code_inline" not in kinds, text
            said.append("".join(child.content for child in token.children or ()))
    whole = "\n".join(said)
    for sign in ("http://", ":red[", ":material/", ":smile:", "www.e", "a@b"):
        assert sign not in whole  # parted, so that the page finds nothing to make of it
    return whole.replace(JOINER, "")


WANTED = {
    "coach": (PLAYER, OTHER, DRILL),
    "player": (PLAYER,),
    "squad": (PLAYER, OTHER, DRILL),
    "season": (PLAYER, OTHER, DRILL),
    "load": (SOURCE,),
}
"""What a page must show of what somebody typed; the others have nothing of it to show."""


def test_what_must_be_shown_is_asked_of_pages_that_there_are():
    assert set(WANTED) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_shows_what_was_typed_as_it_was_typed(hostile, name):
    page = draw(name)
    said = drawn(page)
    for typed in WANTED.get(name, ()):
        assert line(typed) in said
    for box in page.selectbox:
        assert all("\u202e" not in option for option in box.options)


def load_of(view):
    from tracker.pages.load import render

    render(view)


def boxes_of(texts):
    from tracker.pages.shared import drawing

    for text in texts:
        drawing.answer(text, text)
        drawing.heading(text)
        drawing.say(text, text)
        drawing.note(text)
        drawing.warn(text)
        drawing.refused(text)
        drawing.done(text)
        drawing.quietly(text)
    drawing.problems(texts)
    drawing.unlike(texts)
    drawing.elsewhere(texts)
    drawing.bullets(texts)
    drawing.note_bullets(texts)
    drawing.table(texts, [texts], "")


def run(draw, **given):
    page = drawn_by(draw, kwargs=given).run()
    assert not page.exception
    return page


def test_every_way_of_writing_shows_every_hostile_name_as_typed():
    names = [name for name in HOSTILE if name == tidy(name)]
    page = run(boxes_of, texts=tuple(names))
    for text in markdown_of(page):
        for token in MARKDOWN.parse(text):
            kinds = {child.type for child in token.children or ()}
            assert kinds <= {"text", "text_special", "strong_open", "strong_close", "softbreak",
                             "em_open", "em_close", "code_inline"}, text  # fmt: skip
    for kind in ("title", "header", "info", "warning", "error", "success", "caption"):
        shown = [e.value for e in page.get(kind)]
        for name in names:
            said = ["".join(c.content for c in MARKDOWN.parseInline(s)[0].children) for s in shown]
            assert line(name) in {s.replace(JOINER, "") for s in said}, (kind, name)
        assert not any(e.icon for e in page.get(kind) if hasattr(e, "icon"))


def note_table(ranges):
    from tracker.pages.shared import drawing

    rows = [("moved ball from 2 to 3 (wind)", "+4.0 mm (+1.0 to +7.0)")]
    drawing.table(("Note", "Change"), rows, "", ranges=ranges)


@pytest.mark.parametrize(
    ("ranges", "said"), [(False, []), (True, ["In brackets: 90 % sure to be in this range."])]
)
def test_brackets_are_explained_where_they_are_ranges_not_where_a_note_has_some(ranges, said):
    assert [c.value for c in run(note_table, ranges=ranges).caption] == said


def test_a_refused_file_is_named_as_typed():
    problem = RowProblem(2, DRILL, PLAYER, OTHER)
    view = LoadView(f"{SOURCE} was refused; nothing was stored.", OTHER, False, (problem,))
    said = drawn(run(load_of, view=view))
    for typed in (SOURCE, OTHER, DRILL, PLAYER):
        assert line(typed) in said


def test_a_database_that_cannot_be_opened_is_named_as_typed(monkeypatch, tmp_path):
    path = tmp_path / "_b_ [db].txt"
    path.write_text("no database\n" * 400)
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{path}")
    assert "_b_" in drawn(draw("coach"))


READ_AS_MARKDOWN = {
    "markdown", "title", "header", "subheader", "caption", "info", "warning", "error", "success",
    "write", "toast", "html", "latex", "button", "checkbox", "toggle", "expander", "popover",
    "spinner", "text_input", "text_area", "number_input", "slider", "select_slider", "selectbox",
    "multiselect", "radio", "segmented_control", "pills", "date_input", "file_uploader",
    "download_button", "form_submit_button", "metric", "status", "tabs",
}  # fmt: skip
OURS = {"drawing"}
"""What takes plain text."""


def markdown_arguments(tree):
    """Return what is handed to Streamlit as Markdown: the first argument, help, a bar's text."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        base = node.func.value
        if isinstance(base, ast.Name) and base.id in OURS:
            continue
        if node.func.attr in READ_AS_MARKDOWN:
            yield from node.args[:1]
            yield from (k.value for k in node.keywords if k.arg in {"label", "body", "help"})
        if node.func.attr == "progress":
            yield from (k.value for k in node.keywords if k.arg == "text")


def is_ours(node):
    """Return whether a text is written in the code, or was made plain."""
    if isinstance(node, ast.Constant):
        return True
    if isinstance(node, ast.Name):
        return node.id.isupper()
    if isinstance(node, ast.IfExp):
        return is_ours(node.body) and is_ours(node.orelse)
    if isinstance(node, ast.BinOp):
        return is_ours(node.left) and is_ours(node.right)
    if isinstance(node, ast.JoinedStr):
        return all(is_ours(part) for part in node.values)
    if isinstance(node, ast.FormattedValue):
        return is_ours(node.value) or node.format_spec is not None
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return node.func.id in {"markdown", "counted"}
    return False


def foreign(source):
    return [ast.unparse(a) for a in markdown_arguments(ast.parse(source)) if not is_ours(a)]


NO_PAGES = {"drawing.py", "serve.py"}
"""The one that makes text plain, and one that writes to a terminal."""
PAGE_FILES = [p for p in (ROOT / "tracker" / "pages").rglob("*.py") if p.name not in NO_PAGES]


@pytest.mark.parametrize("path", PAGE_FILES, ids=lambda p: p.stem)
def test_a_page_hands_markdown_only_what_it_wrote_or_made_plain(path):
    assert foreign(path.read_text(encoding="utf-8")) == []


def test_the_watch_over_markdown_sees_a_name():
    assert foreign("st.markdown(view.text)") == ["view.text"]
    assert foreign("left.button(f'Remove {name}')") == ["f'Remove {name}'"]
    assert foreign("place.progress(0.1, text=name)") == ["name"]
    assert foreign("st.caption('a', help=name)") == ["name"]
    assert foreign("st.title(markdown(name)); drawing.say(name); st.info(f'{markdown(a)}')") == []


def test_a_long_name_leaves_the_page_standing(store):
    with Store.open(store.address) as opened:
        opened.add_shots([Shot("x" * 200, datetime(2026, 1, 5), 1, {"strike_up_mm": 1.0})])
    page = draw("live")
    assert "x" * 200 in page.selectbox(key="box live player").options
