"""What a longer trait table must do; ``test_added_traits`` runs this with the table made longer."""

import json
import os

import numpy as np
import pytest
from typer.testing import CliRunner

from models.traits import DELIVERY, MODELLED, TRAITS
from tests.pages import NAMES, page_alone
from tests.tracker.added_traits.log import (
    CHANGED,
    EARLIER,
    LEVELS,
    NEW,
    OLD,
    SESSIONS,
    SHOTS,
    change_log,
    day,
    shot_log,
)
from tracker.cli.main import app
from tracker.decisions.squad import squad_table
from tracker.decisions.verdict.verdict import judge_change
from tracker.fits.fitting import FitRequest, fit_and_keep
from tracker.fits.kept_fits import latest_fit
from tracker.lesson.session import commit, lesson_shots, lesson_today, stored_shots
from tracker.lesson.update import live_fit
from tracker.pages.live_view import live_view
from tracker.store.loading import load_changes, load_shots
from tracker.store.store import Store
from tracker.words import CAUTIONS, cautions_for, fault_words

pytestmark = pytest.mark.filterwarnings("default")

TEMPO, TURN = NEW
TODAY = day(SESSIONS)


def drawn(name, **state):
    page = page_alone(name)
    for key, value in state.items():
        page.session_state[key.replace("_", " ")] = value
    page.run()
    assert not page.exception
    return page


def text_of(page):
    parts = (page.title, page.header, page.markdown, page.caption, page.info, page.warning)
    return " ".join(m.value for part in parts for m in part)


@pytest.fixture(scope="module")
def url():
    return os.environ["DRIVE_PROGRESS_DB"]


@pytest.fixture(scope="module")
def before(url):
    """Every page as drawn from the fit of a day when nobody knew the new traits."""
    return {name: drawn(name) for name in NAMES}


@pytest.fixture(scope="module")
def fitted(url, before):
    with Store.open(url) as store:
        report = load_shots(store, shot_log(range(EARLIER, SESSIONS), (*OLD, *NEW)))
        load_changes(store, change_log())
        kept = fit_and_keep(store, FitRequest(seed=3))
        yield store, kept.fit, report


def asked(*words):
    result = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_the_rows_are_at_the_end_of_every_list_they_belong_to():
    assert MODELLED[-2:] == NEW
    assert not set(NEW) & set(DELIVERY)


def test_a_fit_from_before_the_rows_still_serves_every_page(before):
    assert before["coach"].title[0].value
    assert before["squad"].selectbox(key="box trait").options
    assert "shoulder turn" not in " ".join(before["squad"].selectbox(key="box trait").options)


def test_the_stored_log_gets_the_new_columns_and_keeps_its_old_shots(fitted):
    store, _, report = fitted
    later = len(LEVELS) * SHOTS * (SESSIONS - EARLIER)
    assert (report.stored, report.rejected) == (later, ())
    frame = store.shots_frame()
    assert len(frame) == len(LEVELS) * SHOTS * SESSIONS
    assert frame[TEMPO].notna().sum() == frame[TURN].notna().sum() == later


def test_a_reading_out_of_range_is_refused_with_the_rows_range(url, fitted, tmp_path):
    path = tmp_path / "wild.csv"
    path.write_text(f"player,session,shot,invented_ratio\nAlder,{TODAY},1,30\n")
    result = CliRunner().invoke(app, ["load", str(path)])
    assert result.exit_code != 0
    assert "a number from 1 to 8 times" in " ".join(result.output.split())


def test_the_planted_levels_are_found(fitted):
    _, fit, _ = fitted
    assert fit.problems_of(*MODELLED) == ()
    for name, levels in LEVELS.items():
        for trait, level in zip(NEW, levels[len(OLD) :], strict=True):
            draws = fit.of(name, trait).now
            planted = level + CHANGED.get((name, trait), 0.0)
            assert abs(draws.mean() - planted) < 4 * draws.std()


def test_show_gives_the_new_traits_with_their_unit(fitted):
    shown = asked("show", "Cedar")["traits"]
    assert shown[TEMPO]["level"]["unit"] == "times"
    assert shown[TEMPO]["level"]["median"] == pytest.approx(4.0, abs=0.3)
    assert shown[TURN]["level"]["unit"] == "deg"
    text = CliRunner(env={"COLUMNS": "200"}).invoke(app, ["show", "Cedar"]).output
    assert "tempo" in text
    assert "shoulder turn" in text


def test_without_a_goal_a_change_is_real_but_neither_better_nor_worse(fitted):
    _, fit, _ = fitted
    found = judge_change(fit, "Cedar", TEMPO)
    assert found.verdict == "real-worthwhile"
    assert (found.p_better, found.direction) == (None, None)
    assert found.worthwhile == pytest.approx(0.2 * fit.squad(TEMPO).spread.mean())
    assert found.worthwhile_basis.startswith("a fifth of the spread between players (")
    assert found.worthwhile_basis.endswith("times); the flight does not know tempo")
    told = asked("verdict", "Cedar", "--trait", TEMPO)
    assert (told["verdict"], told["direction"]) == ("real-worthwhile", None)


def test_a_drill_of_a_trait_without_a_goal_is_not_judged_and_that_is_said(fitted):
    (left_out,) = asked("works")["not_judged"]
    assert (left_out["trait"], left_out["changes"]) == (TEMPO, ["count to three"])
    alone = asked("works", "--trait", TEMPO)
    assert alone["lead"] == left_out["words"]
    assert "More of it is neither better nor worse" in alone["lead"]


def test_where_more_is_better_a_rise_is_better(fitted):
    _, fit, _ = fitted
    found = judge_change(fit, "Alder", TURN)
    assert (found.verdict, found.direction) == ("real-worthwhile", "better")
    assert found.p_better > 0.95
    assert found.worthwhile == pytest.approx(0.2 * fit.squad(TURN).spread.mean())


def test_the_squad_is_ranked_from_the_most_down(fitted):
    _, fit, _ = fitted
    assert [r.player for r in squad_table(fit, TURN)][-1] == "Birch"
    rows = asked("squad", "--trait", TEMPO)["players"]
    assert rows[0]["player"] == "Cedar"
    drills = asked("squad", "--trait", TURN)["drills"]
    (own,) = [d for d in drills if d["name"] == "wider turn"]
    assert (own["trait"], own["effect"]["unit"], own["players"]) == (TURN, "deg", 3)


@pytest.mark.parametrize("trait", NEW)
def test_a_retest_is_planned_for_the_smallest_change_that_matters(fitted, trait):
    plan = asked("retest", "Birch", "--trait", trait)
    chances = [d["p_real"] for d in plan["designs"]]
    assert max(chances) > min(chances)


def test_distance_answers_do_not_ask_for_the_new_traits(fitted):
    found = asked("gains", "Alder")
    assert not set(NEW) & {f["trait"] for f in found["fixes"]}
    apart = asked("explain", "Alder", "--from", day(2), "--to", day(8))
    assert set(apart["from_level"]) == set(DELIVERY)


def test_words_come_from_the_row_or_from_its_label():
    assert fault_words(TEMPO, 2.0, 3.0) == "tempo too low"
    assert fault_words(TURN, 100.0, 90.0) == "turning too far"
    assert cautions_for(TURN)[0] == "A wider turn loads the hips." in CAUTIONS
    assert not set(cautions_for(TEMPO)) & {t.caution for t in TRAITS.values()}


def test_a_lesson_takes_and_judges_the_new_traits(fitted):
    store, fit, _ = fitted
    lesson = lesson_today(store, "Birch", today=TODAY, delivery_method="radar")
    for k in range(12):
        commit(store, lesson, {TEMPO: 3.65 + 0.01 * k, TURN: 82.0 + k / 4})
    stored = stored_shots(store, lesson)
    now = live_fit(fit, "Birch", stored, (), lesson.session)
    assert list(now.read[[fit.trait_index(t) for t in NEW]]) == [12, 12]
    day = now.posterior.today.average() - now.posterior.level.average()
    assert day[fit.trait_index(TEMPO)] > 0 > day[fit.trait_index(TURN)]
    shots = lesson_shots(stored, lesson)
    for trait, words in ((TEMPO, "slower back"), (TURN, "narrower")):
        view = live_view(fit, lesson, shots, stored, (), trait, "yards")
        assert f"{words} than the tendency" in view.headline
        assert TRAITS[trait].label in view.tendency
    page = drawn("live", kept_player="Birch", kept_trait=TURN)
    assert "Shoulder turn (°)" in [n.label for n in page.text_input]
    assert "Tempo (times)" in [n.label for n in page.text_input]


@pytest.mark.parametrize("name", ["coach", "player", "squad", "live"])
def test_pages_offer_the_new_traits_by_their_labels(fitted, name):
    # Alder has changed its turn and been read in everything
    page = drawn(name, kept_player="Alder")
    offered = {option for box in page.selectbox for option in box.options}
    assert {"tempo", "shoulder turn"} <= offered


def test_pages_that_ask_for_no_trait_still_answer(fitted):
    assert drawn("physics").title[0].value == "No ball data: the published physics serves."
    assert drawn("load").title[0].value == "Load a shot log."


def test_the_players_page_judges_the_new_traits(fitted):
    for name, trait, words in (
        ("Cedar", TEMPO, "slower back"),
        ("Alder", TURN, "wider (90 % sure between"),
    ):
        page = drawn("player", kept_player=name, kept_trait=trait)
        assert page.title[0].value == "Yes, this is real."
        assert words in text_of(page)


def test_the_squads_page_says_what_first_means(fitted):
    page = drawn("squad", kept_trait=TEMPO)
    assert page.title[0].value.startswith("Tempo: Cedar is clearly highest, at +")
    assert "Highest on top: more of it is neither better nor worse." in text_of(page)
    assert "Among the highest three" in page.table[0].value.columns
    page = drawn("squad", kept_trait=TURN)
    assert "Best on top: widest." in text_of(page)


def test_the_stored_fit_holds_the_new_traits(fitted):
    store, fit, _ = fitted
    stored = latest_fit(store)
    assert stored.traits == MODELLED
    np.testing.assert_array_equal(stored.level, fit.level)
