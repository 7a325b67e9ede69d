"""A long table is searched and shown in pages; a short one is shown whole, with no widgets."""

from tests.pages import drawn_by
from tracker.pages.shared.long_table import FEW, PAGE, matching, shown_words


def draw(number):
    from tracker.pages.shared.long_table import long_table

    rows = [(f"Player {i:03d}", "left" if i % 100 == 7 else "right") for i in range(number)]
    long_table(("Player", "Hand"), rows, "Nobody.", b"player,hand\n", "hands")


def shown(page):
    return list(page.table[0].value["Player"])


def test_a_short_table_is_whole_and_asks_nothing():
    page = drawn_by(draw, kwargs={"number": FEW}).run()
    assert len(shown(page)) == FEW
    assert not page.text_input
    assert not page.selectbox


def test_a_long_table_comes_in_pages():
    page = drawn_by(draw, kwargs={"number": 400}).run()
    assert shown(page) == [f"Player {i:03d}" for i in range(PAGE)]
    assert page.selectbox[0].options[1] == "13 to 24 of 400"
    page.selectbox[0].set_value(33).run()
    assert shown(page) == [f"Player {i:03d}" for i in range(396, 400)]


def test_a_search_looks_in_every_cell_and_says_when_nothing_is_found():
    page = drawn_by(draw, kwargs={"number": 400}).run()
    page.text_input[0].set_value(" LEFT ").run()
    assert shown(page) == ["Player 007", "Player 107", "Player 207", "Player 307"]
    page.text_input[0].set_value("zebra").run()
    assert not page.table
    assert page.text[0].value == "Nothing here holds 'zebra'."


def test_an_empty_table_says_so():
    page = drawn_by(draw, kwargs={"number": 0}).run()
    assert page.markdown[0].value == "Nobody."


def test_places_that_match_whatever_the_case():
    assert matching(("Ann", "bo\nANNEX", "Cy"), "ann") == (0, 1)
    assert matching(("Ann", "Bo"), "") == (0, 1)
    assert shown_words(0, 10) == "1 to 10 of 10"
