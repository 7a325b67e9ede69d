"""Initials: each player's own, taken by nobody else's name, and told back to the stored name."""

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from tests.fits import day, make_fit
from tests.tracker.pages.academy import CHANGES, small_fit
from tracker.pages.shared.callings import NAMES, by_initials
from tracker.records import Change


def test_initials_are_the_first_letters_and_numbered_in_the_order_players_came():
    called = by_initials(["Bea Quill", "Ben de la Queue", "Bo Quist", "bri quant", "Zo\u00eb"])
    assert called.pairs == (
        ("Bea Quill", "BQ"),
        ("Ben de la Queue", "BDL"),
        ("Bo Quist", "BQ 2"),
        ("bri quant", "BQ 3"),
        ("Zo\u00eb", "Z"),
    )


def test_nobodys_name_is_another_players_initials():
    called = by_initials(["Bea Quill", "BQ", "!?"])
    assert called.pairs == (("Bea Quill", "BQ 2"), ("BQ", "B"), ("!?", "P"))


@given(st.lists(st.text(min_size=1, max_size=6), max_size=8))
def test_every_calling_leads_back_to_its_own_player(names):
    called = by_initials(names)
    shown = [called.shown(name) for name in dict.fromkeys(names)]
    assert len(set(shown)) == len(shown)
    assert not set(shown) & set(names)
    assert [called.stored(calling) for calling in shown] == list(dict.fromkeys(names))


@given(st.lists(st.text(min_size=1, max_size=6), min_size=1, max_size=8))
def test_a_newcomer_takes_nobodys_initials_away(names):
    known = list(dict.fromkeys(names))
    before = by_initials(known[:-1])
    newcomer_is_initials = known[-1] in {calling for _, calling in before.pairs}
    if not newcomer_is_initials:
        assert by_initials(known).pairs[:-1] == before.pairs


def test_text_names_players_by_their_initials_whole_words_only():
    called = by_initials(["Ann Lee", "Ann Lee Moor"])
    said = called.in_text("Ann Lee Moor and Ann Lee, not Ann Leed or Joann Lee")
    assert said == "ALM and AL, not Ann Leed or Joann Lee"
    assert NAMES.in_text("Ann Lee") == "Ann Lee"


def test_text_names_players_in_any_case_with_any_signs_between_their_words():
    called = by_initials(["Ann Lee", "Will"])
    assert called.in_text("ann_lee-2026.csv of ANN  LEE") == "AL-2026.csv of AL"
    assert called.in_text("when we will know of Will") == "when we will know of W"
    assert called.in_file_name("shots_will_may.csv") == "shots_W_may.csv"


def test_drill_that_bears_a_players_name_is_the_same_drill_by_initials():
    drill = "Ann Lee ladder"
    up = "strike_up_mm"
    changes = (Change("Ann Lee", day(10), "drill", drill, up, 4),)
    fit = make_fit({"Ann Lee": {up: 1.0}}, changes=changes, drill_effect={drill: {up: 4.0}})
    renamed = by_initials(["Ann Lee"]).fit(fit)
    assert renamed.drills == ("AL ladder",)
    (change,) = renamed.of("AL", up).changes
    assert change.name == "AL ladder"
    assert renamed.squad(up).drill_effect.keys() == {"AL ladder"}


def test_fit_answers_to_the_initials_with_the_same_draws():
    fit = small_fit()
    called = by_initials(["Cedar", "Alder"])
    renamed = called.fit(fit)
    assert [p.name for p in renamed.players] == [called.shown(p.name) for p in fit.players]
    assert renamed.knows("C")
    assert not renamed.knows("Cedar")
    now = renamed.of("C", "strike_up_mm")
    assert (now.now == fit.of("Cedar", "strike_up_mm").now).all()
    assert [c.player for c in now.changes] == ["C"]
    assert called.change(CHANGES[0]).name == "tee it higher"


def test_table_of_shots_is_left_alone_while_names_are_shown():
    table = pd.DataFrame({"player": ["Cedar", "Alder"], "shot": [1, 2]})
    assert NAMES.frame(table) is table
    assert list(by_initials(["Cedar", "Alder"]).frame(table)["player"]) == ["C", "A"]
    assert list(table["player"]) == ["Cedar", "Alder"]
