"""The list of pages that the tests read from app.py: what is registered, and nothing else."""

import pytest

from tests.pages import NAMES, PAGES, ROOT, WITHOUT_FIT, RegisteredPage, pages_of

SOURCE = """
import streamlit as st
pages = [
    st.Page(first.page, title="First", url_path="first"),
    st.Page(second_look.page, title="Second look", url_path="second"),
]
front = st.Page(first.page, title="First", url_path="front", default=True)
"""


def test_pages_are_read_in_order_and_the_front_page_once():
    assert pages_of(SOURCE) == (
        RegisteredPage("first", "First", "first"),
        RegisteredPage("second_look", "Second look", "second"),
    )


@pytest.mark.parametrize("call", ["st.Page('x.py', title='X', url_path='x')", "st.Page(x.page)"])
def test_a_page_registered_in_another_way_is_refused(call):
    with pytest.raises(ValueError, match="line 1"):
        pages_of(call)


def test_every_registered_page_has_its_module_and_an_address_of_its_own():
    assert {"coach", "season", "trust"} <= set(NAMES)
    for page in PAGES:
        assert (ROOT / "tracker" / "pages" / f"{page.module}.py").is_file()
    assert len({page.path for page in PAGES}) == len(PAGES)


def test_pages_that_need_no_fit_are_pages():
    assert set(WITHOUT_FIT) <= set(NAMES)
