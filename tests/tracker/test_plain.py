"""Text that somebody typed is shown, never obeyed: by a terminal, by Markdown, by the page."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from tests.hostile import CONTROL, HOSTILE
from tracker.plain import JOINER, STAND_IN, line, markdown, terminal

MARKDOWN = MarkdownIt("commonmark").enable(["table", "strikethrough"])
SHAPELESS = {"Cc", "Cf", "Cs"}
TEXTS = st.text(max_size=60) | st.text(alphabet="`*_{}[]()#+-.!|<>~$:=@&\\ a1w/\n", max_size=30)


def drawn(text):
    """Return the text of a Markdown paragraph; anything but text in it is an error."""
    tokens = MARKDOWN.parse(text)
    if not tokens:
        return ""
    assert [t.type for t in tokens] == ["paragraph_open", "inline", "paragraph_close"], text
    kinds = {child.type for child in tokens[1].children}
    assert kinds <= {"text", "text_special"}, (text, kinds)
    return "".join(child.content for child in tokens[1].children)


@pytest.mark.parametrize("name", [*HOSTILE, *CONTROL], ids=ascii)
def test_a_hostile_name_is_drawn_as_typed(name):
    assert drawn(markdown(name)).replace(JOINER, "") == line(name).strip()


@given(TEXTS)
def test_any_text_is_drawn_as_typed(text):
    assert drawn(markdown(text)).replace(JOINER, "") == line(text).strip()


@given(TEXTS)
def test_a_name_inside_a_sentence_is_drawn_as_typed(text):
    said = drawn(markdown(f"Today {text}: 2 mm."))
    assert said.replace(JOINER, "") == line(f"Today {text}: 2 mm.")


@given(st.text())
def test_a_terminal_is_given_nothing_to_obey(text):
    for char in terminal(text):
        assert char in "\n\t\u200c\u200d" or unicodedata.category(char) not in SHAPELESS


@given(st.text(alphabet=st.characters(exclude_categories=["C", "Z"], include_characters=" \n")))
def test_ordinary_text_reaches_the_terminal_unchanged(text):
    assert terminal(text) == text


@pytest.mark.parametrize(
    "sentence",
    [
        "Cedar: tee ladder first.",
        "7 yd toward the target (90 % sure between 2 and 13 yd), best choice in about 8 in 10",
        "+4.1 mm (+1.2 to +7.0)",
        "-8.0 mm (-9.5 to -6.5)",
        "strike_up_mm, 2026-03-01 10:30 to 2026-04-30",
        "Read every shot the same way; keep the bad ones too!",
    ],
)
def test_ordinary_sentences_are_left_alone(sentence):
    assert markdown(sentence) == sentence


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        (":red[a]", f":{JOINER}red\\[a\\]"),
        (":material/home:", f":{JOINER}material/home:"),
        (":+1:", f":{JOINER}+1:"),
        ("http://a.b", f"http:{JOINER}//a.b"),
        ("www.a.b", f"www{JOINER}.a.b"),
        ("a@b.c", f"a@{JOINER}b.c"),
        ("a -> b", f"a -{JOINER}> b"),
        ("$x$", "\\$x\\$"),
    ],
)
def test_signs_the_page_reads_beyond_markdown_are_parted(name, parts):
    assert markdown(name) == parts


def test_directions_of_writing_and_hidden_characters_are_made_visible():
    assert terminal("right\u202eto left") == f"right{STAND_IN}to left"
    assert terminal("no\u200bwidth") == f"no{STAND_IN}width"
    assert terminal("\x1b[31mred") == f"{STAND_IN}[31mred"
    assert line("a\nb\tc") == "a b c"
