"""One switch shows initials instead of names: on every page, in pictures, lists and the address."""

from datetime import date

import pytest
from google.protobuf.json_format import MessageToJson

from tests.pages import PAGES, drawn_by
from tests.tracker.pages.academy import fill
from tracker.store.store import Store

FIRST, SECOND = "Wilhelmina Quatermain", "Bartholomew Quince"
NAMES = (FIRST, SECOND, "Wilhelmina", "Quatermain", "Bartholomew", "Quince")


@pytest.fixture
def squad(store):
    fill(store, with_balls=True, called={"Cedar": FIRST, "Alder": SECOND})
    return store


def drawn(name):
    import importlib

    from tracker.pages.shared import address

    address.arrive()
    importlib.import_module(f"tracker.pages.{name}").page()


def opened(name, **address):
    page = drawn_by(drawn, kwargs={"name": name})
    for key, value in address.items():
        page.query_params[key] = value
    page.run()
    assert not page.exception
    return page


def all_that_is_sent(page):
    """Return everything that a run hands to the browser: text, pictures, lists, keys, address."""
    protos = [MessageToJson(e.proto) for e in page if getattr(e, "proto", None) is not None]
    return "\n".join([*protos, str(page.query_params)])


def told(page):
    """Return what the address says."""
    found = page.query_params
    return {key: v[-1] if isinstance(v := found[key], list) else v for key in found}


def named_in(text):
    return [name for name in NAMES if name.lower() in text.lower()]


@pytest.mark.parametrize("name", [page.module for page in PAGES])
def test_no_name_stands_anywhere_while_initials_are_on(squad, name):
    by_name = all_that_is_sent(opened(name, player=FIRST))
    by_initials = all_that_is_sent(opened(name, player=FIRST, initials="on"))
    if name not in ("physics", "trust", "load"):
        assert FIRST in by_name
    assert named_in(by_initials) == []


def test_switch_is_moved_and_moved_back(squad):
    page = opened("player", player=SECOND, trait="strike_toe_mm")
    page.sidebar.toggle[0].set_value(True).run()
    assert page.selectbox(key="box player").value == "BQ"
    assert told(page) == {"player": "BQ", "trait": "strike_toe_mm", "initials": "on"}
    assert named_in(all_that_is_sent(page)) == []
    page.sidebar.toggle[0].set_value(False).run()
    assert page.selectbox(key="box player").value == SECOND
    assert told(page) == {"player": SECOND, "trait": "strike_toe_mm"}


def test_windows_that_were_picked_stay_when_the_switch_is_moved(squad):
    windows = {"before": "2026-01-05..2026-01-12", "after": "2026-01-19..2026-01-26"}
    page = opened("player", player=FIRST, trait="strike_toe_mm")
    from tracker.pages.shared.address import windows_of

    page.session_state["kept windows"] = {(FIRST, "strike_toe_mm"): windows_of(windows)}
    page.sidebar.toggle[0].set_value(True).run()
    assert set(page.session_state["kept windows"]) == {("WQ", "strike_toe_mm")}


def test_change_logged_under_initials_is_the_players_own(squad):
    page = opened("coach", player=SECOND, initials="on")
    drill = next(t for t in page.text_input if t.label == "Name of the drill or change")
    drill.set_value("ball further back")
    page.button(key="FormSubmitter:plan-Log this change").click().run()
    assert not page.exception
    logged = [c.name for c in squad.changes(SECOND)]
    assert logged == ["ball further back"]
    assert any("ball further back" in m.value for m in page.markdown)
    assert named_in(all_that_is_sent(page)) == []


def test_shot_of_a_live_lesson_under_initials_is_the_players_own(squad):
    page = opened("live", player=SECOND, initials="on")
    assert page.title[0].value.startswith("BQ")
    page.button[[b.label for b in page.button].index("Struck, but cannot be read")].click().run()
    assert not page.exception
    assert named_in(all_that_is_sent(page)) == []
    with Store.open(squad.address) as again:
        frame = again.shots_frame(SECOND)
        assert [when.date() for when in frame["session"]][-1] == date.today()
        assert len(frame) == 13
        assert {p.name for p in again.players()} == {FIRST, SECOND}


def test_live_list_offers_initials_and_finds_the_players_readings(squad):
    page = opened("live", initials="on")
    box = page.selectbox(key="box live player")
    assert box.options == ["BQ", "WQ", "Someone new"]
    box.set_value("WQ").run()
    assert page.title[0].value.startswith("WQ")
    assert told(page)["player"] == "WQ"


def test_load_page_names_nobody_of_the_squad(squad):
    log = (
        "player,session,shot,strike_up_mm\n"
        f"{FIRST},2026-01-05,1,9.5\n"  # stored already, with another reading
    )
    page = opened("load", initials="on")
    page.file_uploader[0].set_value((f"{FIRST}.csv", log.encode(), "text/csv"))
    page.button(key="FormSubmitter:load-Load").click().run()
    assert not page.exception
    (title,) = page.title
    assert title.value == "WQ.csv was refused; nothing was stored."
    said = [*page.title, *page.markdown, *page.caption, *page.text]
    shown = "\n".join([*(e.value for e in said), *(t.value.to_string() for t in page.table)])
    assert "WQ" in shown
    assert named_in(shown) == [], shown
