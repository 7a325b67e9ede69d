"""Each page alone and app.py once: answers from a stored fit, empty states, stale data, undo."""

import json
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from tests.fits import BROKEN, CLEAN, make_fit, noise, with_info
from tests.pages import NAMES, PATIENCE_S, WITH_FIT, draw
from tests.tracker.pages.academy import LEVELS, keep, shots
from tracker.cli.main import app
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.verdict import threshold
from tracker.errors import NoFit
from tracker.pages.shared import context, judging
from tracker.records import Shot
from tracker.store.store import Store

ROOT = Path(__file__).parents[3]


def _table_with(page, column):
    return next(t.value for t in page.table if column in t.value.columns)


def url_of(store):
    return store.address


def expander_text(page, label):
    (found,) = (e for e in page.expander if e.label.startswith(label))
    return " ".join(m.value for m in found.markdown)


def sidebar_text(page):
    return " ".join(m.value for m in [*page.sidebar.markdown, *page.sidebar.caption])


def test_coach_names_the_lever_of_the_player_with_most_to_gain(academy):
    # Alder strikes 2 mm high, Cedar 3.8 mm low: low strikes cost more carry
    page = draw("coach")
    assert page.selectbox(key="box player").value == "Cedar"
    assert page.title[0].value.startswith("Cedar:")
    assert "90 % sure between" in page.markdown[0].value
    assert "yd" in page.markdown[0].value
    assert [h.value for h in page.header] == [
        "Where the drives land",
        "Where the distance goes",
        "What if",
        "Plan for Cedar",
        "The squad",
    ]


def test_who_only_seems_to_gain_most_is_not_shown_first(academy, monkeypatch):
    """Few draws may put somebody first who in the end has the least to gain, or no lever."""
    monkeypatch.setattr(context, "likely_to_gain", lambda fit: ("Alder", "Cedar"))
    key = context.latest_key()
    gains = {name: context.gains_of(key, name, (), TOWARD, "yards") for name in LEVELS}
    rates = {name: one.best.gain_per_session_m for name, one in gains.items() if one.best}
    assert "Cedar" in rates
    assert rates.get("Alder", 0.0) < rates["Cedar"]
    assert context.likely_first(key) == "Cedar"


def test_units_switch_everywhere_and_are_remembered(academy):
    page = draw("coach")
    page.sidebar.selectbox[0].set_value("metres").run()
    text = " ".join(m.value for m in page.markdown)
    assert " yd" not in text
    assert " m " in text or " m)" in text
    assert page.session_state["kept units"] == "metres"


def test_other_efforts_rank_again(academy):
    page = draw("coach")
    first = next(n for n in page.number_input if n.label.startswith("strike height"))
    first.set_value(30.0)
    page.button(key="FormSubmitter:efforts-Rank again").click().run()
    assert not page.exception
    assert not page.title[0].value.startswith("Cedar: tee it higher")
    levers = _table_with(page, "Effort").set_index("Lever")
    assert levers.loc["tee it higher for strike height", "Effort"] == "30 sessions"


def test_distance_section_compares_the_thirds_and_then_what_is_picked(academy):
    page = draw("coach")
    (said,) = (m.value for m in page.markdown if "against first third" in m.value)
    # Cedar's strike went from 8 mm low to 4 mm low between the thirds; carry was not read
    assert "by the model, carry is" in said
    page.selectbox(key="box Cedar from").set_value("Alder, latest third").run()
    assert not page.exception
    assert any("against Alder, latest third" in m.value for m in page.markdown)


def test_one_shot_can_be_picked_out_of_a_session(academy):
    page = draw("coach")
    page.selectbox(key="box Cedar to").set_value("26 Jan 2026").run()
    page.selectbox(key="box Cedar to 26 Jan 2026").set_value("shot 3").run()
    assert not page.exception
    assert any("Shot 3 of 26 Jan 2026 against" in m.value for m in page.markdown)


def test_moved_slider_is_answered_in_a_sentence(academy):
    page = draw("coach")
    page.slider(key="what if club_speed_mps yards").set_value(5.0).run()
    assert not page.exception
    (said,) = (m.value for m in page.markdown if "more club speed changes carry by" in m.value)
    # 5 mph at 2.5 to 3.5 yd a mph (common practice, no source)
    gained = float(said.split("changes carry by +")[1].split(" yd")[0])
    assert 5 * 2.5 <= gained <= 5 * 3.5
    assert "best window of strike height" in said


def test_plan_is_logged_listed_and_taken_back(academy):
    page = draw("coach")
    page.text_input[0].set_value("low tee ladder")
    page.button(key="FormSubmitter:plan-Log this change").click().run()
    assert not page.exception
    assert "low tee ladder" in [c.name for c in academy.changes("Cedar")]
    assert any("low tee ladder (drill)" in m.value for m in page.markdown)
    number = next(c.id for c in academy.logged_changes() if c.change.name == "low tee ladder")
    page.button(key=f"remove change {number}").click().run()
    assert "low tee ladder" not in [c.name for c in academy.changes("Cedar")]


def test_plan_without_a_name_is_refused_with_a_remedy(academy):
    page = draw("coach")
    page.button(key="FormSubmitter:plan-Log this change").click().run()
    assert "wanted a few words" in page.error[0].value
    assert len(academy.changes("Cedar")) == 1


def test_player_verdict_opens_with_words_and_what_would_settle_it(academy):
    page = draw("player")
    page.selectbox(key="box player").set_value("Cedar").run()
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    # sessions at -8.0, -8.2 before and -4.0, -3.8 after, known to .4 mm each: beyond doubt
    assert page.title[0].value in ("Yes, this is real.", "Real, but how big is not settled.")
    moved = re.search(r"moved about (4\.\d) mm toward the crown", page.markdown[0].value)
    # -3.9 less -8.1, and a little nearer to nothing for days that resemble their neighbours
    assert 4.0 <= float(moved[1]) <= 4.2
    assert page.markdown[1].value.startswith("**What it is worth.** Can't tell yet: the flight")
    assert page.markdown[2].value.startswith("**What next.** Settled: one session a month")


def test_player_page_judges_as_the_command_line_does(academy):
    page = draw("player")
    page.selectbox(key="box player").set_value("Cedar").run()
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    done = CliRunner().invoke(
        app, ["verdict", "Cedar", "--trait", "strike_up_mm", "--json", "--db", url_of(academy)]
    )
    answer = json.loads(done.stdout)
    assert page.title[0].value == f"{answer['words']}."
    size = abs(answer["change"]["median"])
    assert f"moved about {size:.1f} mm" in page.markdown[0].value
    kept = academy.setting("threshold.strike_up_mm.change")["usual"]["value"]
    assert answer["threshold"] == kept
    assert f"at least {kept * 100:.4g} % sure" in expander_text(page, "How sure is sure enough")


def test_limit_is_worked_out_once_for_a_fit_and_anew_for_the_next(academy, fit, monkeypatch):
    worked_out = []
    real = threshold.calibrated_thresholds

    def counting(*args, **more):
        worked_out.append(more["logged"])
        return real(*args, **more)

    monkeypatch.setattr(threshold, "calibrated_thresholds", counting)
    key = context.FitKey(url_of(academy), academy.fits()[0].id)
    first = judging.limit_of(key, "strike_up_mm", logged=True)
    assert judging.limit_of(key, "strike_up_mm", logged=True) is first
    assert worked_out == [True]
    keep(academy, with_info(fit, replace(fit.info, seed=fit.info.seed + 1)))
    later = context.FitKey(url_of(academy), academy.fits()[0].id)
    judging.limit_of(later, "strike_up_mm", logged=True)
    assert worked_out == [True, True]


def test_player_page_says_whether_single_shots_are_closer_together(academy):
    page = draw("player")
    page.selectbox(key="box player").set_value("Cedar").run()
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    assert "Are single shots closer together?" in [h.value for h in page.header]
    (said,) = (m.value for m in page.markdown if "Two shots in three now lie within" in m.value)
    # three shots a session at -1, 0 and +1 mm, before and after: nothing to tell apart
    assert said.startswith("**Too early to say.**")
    assert said.count("90 % sure between") == 3


def test_fits_of_another_club_do_not_answer_for_the_driver(academy, fit):
    iron = with_info(fit, replace(fit.info, club="7-iron"))
    keep(academy, iron)
    assert academy.fits()[0].club == "7-iron"
    assert "Fit 1" in sidebar_text(draw("squad"))


def test_trust_page_says_whether_the_fit_can_be_trusted(academy):
    page = draw("trust")
    assert page.title[0].value == "Every part of this fit was sampled well; some of it wants care."
    compared = _table_with(page, "Looks alike?")
    assert {"scatter of sessions", "largest session"} <= set(compared["What is compared"])
    order = compared["Looks alike?"].tolist()
    assert order == sorted(order)  # "no" before "yes"
    assert all("(" in cell for cell in compared["The model's own"])
    possible = _table_with(page, "Impossible shots")
    assert possible["Reading"].tolist()[:2] == ["Strike across the face", "Strike height"]


def test_player_can_compare_other_dates(academy):
    page = draw("player")
    page.selectbox(key="box player").set_value("Cedar").run()
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    page.date_input[0].set_value((datetime(2026, 1, 5), datetime(2026, 1, 5)))
    page.date_input[1].set_value((datetime(2026, 1, 12), datetime(2026, 1, 12)))
    page.button(key="FormSubmitter:windows-Compare these").click().run()
    assert not page.exception
    assert page.title[0].value == "Too early to say."
    assert any("Only one session" in i.value for i in page.main.info)


def of(page, name, trait):
    page.selectbox(key="box player").set_value(name).run()
    return page.selectbox(key="box trait").set_value(trait).run()


def test_an_unlogged_change_is_offered_and_judged_with_a_limit_of_its_own(academy):
    late = 4.0 + 0.1 * noise(400, seed=3)
    jumps = {("Alder", "strike_up_mm"): (3, late), ("Cedar", "strike_up_mm"): (3, late)}
    levels = {"Alder": {"strike_up_mm": [2.0, 2.0, 2.0, 6.0, 6.0, 6.0]},
              "Cedar": {"strike_up_mm": -8.0}}  # fmt: skip
    days = {"Alder": (0, 7, 14, 21, 28, 35), "Cedar": (0, 7, 14, 21)}
    keep(academy, make_fit(levels, days=days, level_sd=0.4, jumps=jumps))
    page = of(draw("player"), "Alder", "strike_up_mm")
    (said,) = (m.value for m in page.markdown if m.value.startswith("**Not logged.**"))
    assert "between 19 January 2026 and 26 January 2026 that nobody logged" in said
    assert "by +4.0 mm" in said
    (button,) = (b for b in page.button if b.label == "Compare before and after it")
    button.click().run()
    assert not page.exception
    assert [d.value for d in page.date_input] == [
        (date(2026, 1, 5), date(2026, 1, 19)),
        (date(2026, 1, 26), date(2026, 2, 9)),
    ]
    assert "moved about 4.0 mm" in page.markdown[0].value
    assert not [b for b in page.button if b.label == "Compare before and after it"]
    kept = academy.setting("threshold.strike_up_mm.plain")
    shown = expander_text(page, "How sure is sure enough")
    assert f"at least {kept['offered']['value'] * 100:.4g} % sure" in shown
    assert "model's own proposal" in shown
    page = of(page, "Cedar", "strike_up_mm")  # one session after it
    assert any("Two sessions on either side" in c.value for c in page.caption)


def test_a_doubt_about_path_leaves_attack_judged_and_carry_unanswered(academy, fit):
    parts = dict.fromkeys(fit.traits, CLEAN)
    keep(academy, with_info(fit, replace(fit.info, reports={**parts, "path_deg": BROKEN})))
    page = of(draw("player"), "Cedar", "strike_up_mm")
    assert page.title[0].value == "Yes, this is real."
    assert not page.warning
    (note,) = (c.value for c in page.caption if c.value.startswith("Elsewhere in this fit"))
    assert "Club path: 7 divergent draws" in note
    page = of(page, "Cedar", "path_deg")
    assert page.title[0].value == "No verdict from this fit."
    assert "Club path: 7 divergent draws" in page.warning[0].value
    page = draw("squad")
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    assert page.title[0].value.startswith("Strike height:")
    for name in ("coach", "physics"):
        page = draw(name)
        assert "no answer from this fit" in page.title[0].value.lower()
        assert "Club path" in page.warning[0].value


def test_a_trait_never_read_is_marked_on_the_coach_page_and_is_no_lever(academy):
    none = {(name, "strike_up_mm"): [0, 0, 0, 0] for name in LEVELS}
    keep(academy, make_fit(LEVELS, shots=none))
    page = draw("coach")
    page.selectbox(key="box player").set_value("Cedar").run()
    worth = _table_with(page, "Best lever").set_index("Trait")
    assert worth.loc["strike height", "Now"] == "not read"
    assert worth.loc["strike height", "Best lever"] == ""
    assert not any("strike height" in name for name in _table_with(page, "Effort")["Lever"])


def test_squad_sentence_is_about_the_chosen_trait(academy):
    page = draw("squad")
    page.selectbox(key="box trait").set_value("strike_up_mm").run()
    assert page.title[0].value.startswith("Strike height:")
    assert "Which drill works" in {header.value for header in page.header}


def test_physics_page_without_balls_says_what_to_record(academy):
    page = draw("physics")
    assert page.title[0].value == "No ball data: the published physics serves."
    assert page.header[0].value == "What to record"


def test_side_bar_says_what_is_stored_and_which_fit(academy):
    text = sidebar_text(draw("squad"))
    assert "2 players, 8 sessions, 24 shots" in text
    assert "Fit 1" in text
    assert "academy.db" in text


def test_shots_loaded_after_the_fit_are_counted(academy):
    assert not draw("squad").sidebar.info
    late = [Shot("Alder", datetime(2026, 2, 20), n, {"strike_up_mm": 1.0}) for n in range(1, 13)]
    academy.add_shots(late)
    notices = [i.value for i in draw("squad").sidebar.info]
    assert notices == ["12 shots were loaded after this fit: fit again."]


def test_broken_fit_shows_its_problem_before_any_number(academy, fit):
    keep(academy, with_info(fit, replace(fit.info, report=BROKEN)))
    for name in ("coach", "player", "squad", "physics"):
        page = draw(name)
        assert "R-hat 1.200" in page.warning[0].value
        assert page.title[0].value.endswith("from this fit.")
        assert not page.table


def test_fit_of_an_earlier_version_asks_for_a_new_one(academy, monkeypatch):
    def gone(content, info):
        raise NoFit("fit 1 was made by an earlier version")

    monkeypatch.setattr("tracker.fits.kept_fits.decode", gone)
    for name in WITH_FIT:
        page = draw(name)
        assert page.title[0].value == "The last fit was made by an earlier version."
        assert "Fit again" in {b.label for b in page.sidebar.button}


@pytest.mark.parametrize("name", WITH_FIT)
def test_empty_database_says_what_to_do(store, name):
    page = draw(name)
    assert page.title[0].value == "No shots yet."
    assert "drive-progress demo" in page.main.markdown[0].value


@pytest.mark.parametrize("name", WITH_FIT)
def test_shots_without_a_fit_ask_for_one(store, name):
    store.add_shots(shots())
    page = draw(name)
    assert "nothing has been fitted yet" in page.title[0].value
    assert [b.label for b in page.sidebar.button] == ["Fit"]


def test_unusable_database_is_a_sentence(monkeypatch, tmp_path):
    (tmp_path / "notes.txt").write_text("bring new tees, and a ladder for the net\n" * 40)
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{tmp_path / 'notes.txt'}")
    page = draw("coach")
    assert page.title[0].value == "The database cannot be opened."
    assert "choose another file name" in page.markdown[0].value


def test_running_fit_shows_its_progress_and_no_second_button(academy):
    import os

    academy.start_job(total=200, pid=os.getpid())
    academy.update_job(academy.job().id, state="running", done=50, phase="drawing")
    page = draw("squad")
    assert not page.sidebar.button


def test_failed_fit_says_why(academy):
    academy.start_job(total=200)
    academy.update_job(academy.job().id, state="failed", message="Out of memory: fewer draws.")
    page = draw("squad")
    assert page.sidebar.error[0].value == "Out of memory: fewer draws."
    assert [b.label for b in page.sidebar.button] == ["Fit again"]


def test_last_load_can_be_taken_back(store):
    store.add_shots(shots(), source="january.csv")
    page = draw("load")
    assert page.table[0].value.loc[0, "From"] == "january.csv"
    page.button(key="undo load 1").click().run()
    assert not page.exception
    assert store.rows_by_table()["shot"] == 0


def test_app_opens_on_the_coach(academy):
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=PATIENCE_S).run()
    assert not page.exception
    assert page.title[0].value.startswith("Cedar:")


def test_no_page_loads_the_sampler(tmp_path):
    code = (
        "import sys\n"
        f"import {', '.join(f'tracker.pages.{name}' for name in NAMES)}\n"
        "print(sorted({'pymc', 'pytensor', 'nutpie', 'arviz'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "[]"


def test_store_stays_usable_while_a_page_reads(academy, url):
    draw("squad")
    with Store.open(url) as other:
        other.set_setting("seen", 1)
        assert other.setting("seen") == 1
