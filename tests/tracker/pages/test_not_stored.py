"""A player who is in the fit but no longer stored is shown as such, by pages and commands."""

import json

import pytest
from typer.testing import CliRunner

from tests.pages import WITH_FIT, page_alone
from tests.tracker.pages.academy import fill
from tracker.cli.main import app

GONE = "Cedar"


@pytest.fixture
def left(store):
    """An academy that one player of the fit has left."""
    fill(store)
    with store.writing() as connection:
        from tracker.store.people import erase_rows

        erase_rows(connection, GONE)
    return store


@pytest.mark.parametrize("name", WITH_FIT)
def test_a_page_says_who_is_no_longer_stored(left, name):
    page = page_alone(name)
    page.session_state["kept_player"] = GONE
    page.query_params["player"] = GONE
    page.run()
    assert not page.exception
    said = [w.value for w in page.sidebar.warning]
    assert f"{GONE} is in this fit but no longer stored: fit again to leave them out." in said


@pytest.mark.parametrize(
    "words",
    [
        ("show", GONE),
        ("gains", GONE),
        ("verdict", GONE, "--trait", "strike_up_mm"),
        ("retest", GONE, "--change", "8"),
        ("explain", GONE, "--from", "2026-01-05", "--to", "2026-01-26"),
        ("squad",),
    ],
)
def test_a_command_says_who_is_no_longer_stored(left, words):
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 0, (done.output, done.exception)
    assert f"{GONE} is in this fit but no longer stored" in done.stderr
    found = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    assert found["not_stored"] == [GONE]
