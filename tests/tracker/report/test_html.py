"""The paper as one HTML file: nothing to fetch, every name escaped, drawings of their own."""

import re
from html.parser import HTMLParser

import pytest

from tests.tracker.report.papers import paper
from tests.tracker.report.test_setting import HOSTILE
from tracker.report.html import as_html


class Reader(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.texts, self.attributes = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.texts.append(data)


def read(text):
    reader = Reader()
    reader.feed(text)
    return reader


@pytest.mark.parametrize("name", [*HOSTILE, '"><img src=x onerror=alert(1)>', "a & b", "'"])
def test_a_name_is_text_wherever_it_stands(name):
    found = read(as_html(paper(name)))
    assert found.tags == read(as_html(paper("Ann"))).tags
    assert found.texts.count(name) == read(as_html(paper("Ann"))).texts.count("Ann") >= 5
    assert ("aria-label", f"Shots of {name}.") in found.attributes


def test_nothing_is_fetched():
    found = read(as_html(paper()))
    assert not {"script", "link", "img", "iframe", "object"} & set(found.tags)
    sources = [v for k, v in found.attributes if k in ("src", "href", "xlink:href")]
    assert sources == []
    (policy,) = (v for k, v in found.attributes if k == "content" and "default-src" in v)
    assert policy.startswith("default-src 'none'")


def test_drawings_do_not_share_their_inner_names():
    text = as_html(paper())
    names = re.findall(r'\bid="([^"]+)"', text)
    assert len(names) == len(set(names)) == 2
    assert set(re.findall(r"url\(#([^)]+)\)", text)) == set(names)


def test_it_can_be_printed():
    text = as_html(paper())
    assert "@media print" in text
    assert "@page" in text


def test_problems_come_before_the_answer():
    text = as_html(paper(problems=("chains disagree.",)))
    assert 0 < text.index("chains disagree.") < text.index("Next: Ann.")
