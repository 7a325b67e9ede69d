"""Kept fits on the command line: listed, compared, asked for as of a day, removed on request."""

import json
from dataclasses import replace
from datetime import date, datetime

import pytest
from sqlalchemy import create_engine, update
from typer.testing import CliRunner

from models.traits import MODELLED
from tests.fits import make_fit, with_info
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.fits.kept_promises import logged_with_promises
from tracker.records import Change, Shot
from tracker.store.store import Store
from tracker.store.tables import FIT

UP = "strike_up_mm"
MADE = (datetime(2026, 5, 20, 23, 30), datetime(2026, 6, 10, 8))


@pytest.fixture
def url(tmp_path, monkeypatch):
    address = f"sqlite:///{tmp_path / 'shots.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", address)
    return address


@pytest.fixture
def run(url):
    def call(*words, code=0):
        result = CliRunner().invoke(app, [str(w) for w in words])
        assert result.exit_code == code, result.output
        return result

    return call


@pytest.fixture
def two_fits(url, run):
    """A fit of 20 May that has Ann at -9 mm, and one of 10 June with a session more, at -2."""
    with Store.open(url) as store:
        for number, (days, level) in enumerate(
            (((0, 7, 14, 21), [-9.0] * 4), ((0, 7, 14, 21, 28), [-9.0] * 4 + [-2.0]))
        ):
            store.add_shots([Shot("Ann", datetime(2026, 1, 5 + number), 1, {UP: -9.0})])
            fit = make_fit(
                {"Ann": {UP: level}, "Bo": {UP: 5.0}},
                days={"Ann": days, "Bo": (0, 7, 14, 21)},
                raw_mean={
                    (name, trait): [0.0] * (len(days) if name == "Ann" else 4)
                    for name in ("Ann", "Bo")
                    for trait in MODELLED
                },
            )
            info = replace(
                fit.info, data_digest=store.data_digest(), versions={"drive-progress": "0.1.0"}
            )
            keep_fit(
                store, with_info(fit, info), store.shots_frame(), sessions=8 + number, shots=120
            )
    engine = create_engine(url)
    with engine.begin() as connection:
        for number, made in enumerate(MADE, start=1):
            connection.execute(update(FIT).where(FIT.c.id == number).values(created_at=made))
    engine.dispose()
    return run


def answer(result):
    return json.loads(result.stdout)


def test_an_earlier_belief_is_answered_from_the_fit_of_its_day(two_fits):
    for asked, number, level in (
        ("2026-05-20", 1, -9.0),
        ("2026-06-01", 1, -9.0),
        ("2026-06-10", 2, -2.0),
        (None, 2, -2.0),
    ):
        words = [] if asked is None else ["--as-of", asked]
        shown = answer(two_fits("show", "Ann", "--json", *words))
        assert shown["fit_id"] == number
        assert shown["traits"][UP]["level"]["median"] == pytest.approx(level, abs=0.1)
    assert shown["fitted_at"] == "2026-06-10T08:00:00+00:00"


@pytest.mark.parametrize(
    "words",
    [
        ("gains", "Ann"),
        ("verdict", "Ann", "--trait", UP),
        ("squad", "--trait", UP),
        ("works", "--trait", UP),
        ("plan", "--weeks", "4"),
        ("promises",),
        ("retest", "Ann", "--trait", UP, "--change", "4"),
        ("explain", "Ann", "--from", "2026-01-05", "--to", "2026-01-26"),
        ("report", "Ann", "--force", "--out", "ann.html"),
        ("report", "--squad", "--force", "--out", "squad.html"),
        ("trust",),
    ],
)
def test_every_answer_from_a_fit_can_be_asked_for_as_of_a_day(two_fits, words, tmp_path):
    words = [tmp_path / word if word.endswith(".html") else word for word in words]
    assert answer(two_fits(*words, "--as-of", "2026-06-01", "--json"))["fit_id"] == 1
    said = two_fits(*words, "--as-of", "2026-06-01").stderr
    assert "As of 2026-06-01: fit 1, made on 2026-05-20." in said
    assert "run drive-progress fit" not in said  # what came later is no fault of that day's answer


@pytest.mark.parametrize(
    ("words", "limit"),
    [
        (("verdict", "Ann", "--trait", UP), "plain"),
        (("retest", "Ann", "--trait", UP, "--change", "4"), "change"),
        (("squad", "--trait", UP), "plain"),
    ],
)
def test_an_answer_as_of_a_day_leaves_the_latest_fits_threshold_in_place(
    two_fits, url, words, limit
):
    key = f"threshold.{UP}.{limit}"
    two_fits(*words)
    with Store.open(url) as store:
        kept = store.setting(key)
        assert kept is not None
        two_fits(*words, "--as-of", "2026-06-01")
        assert store.setting(key) == kept


def test_a_plan_as_of_a_day_starts_on_it_unless_told_otherwise(two_fits):
    asked = "plan", "--as-of", "2026-06-01", "--json"
    assert answer(two_fits(*asked))["from"] == "2026-06-01"
    assert answer(two_fits(*asked, "--from", "2026-07-01"))["from"] == "2026-07-01"


def test_a_session_that_came_later_is_unknown_to_that_days_answer(two_fits):
    asked = "explain", "Ann", "--from", "2026-01-05", "--to", "2026-02-02"
    assert answer(two_fits(*asked, "--json"))["fit_id"] == 2
    said = two_fits(*asked, "--as-of", "2026-06-01", code=1).stderr
    assert "Ann has no session on 2026-02-02" in said


def test_what_was_promised_later_is_no_part_of_that_days_book(two_fits, url):
    with Store.open(url) as store:
        change = Change("Ann", date(2026, 7, 1), "drill", "tee ladder", trait=UP)
        logged_with_promises(store, lambda: store.add_changes([change]))
    (row,) = answer(two_fits("promises", "--json"))["promises"]
    assert row["fit_id"] == 2
    assert answer(two_fits("promises", "--json", "--as-of", "2026-06-01"))["promises"] == []


def test_papers_as_of_a_day_say_that_they_are(two_fits, tmp_path):
    paper, card = tmp_path / "ann.html", tmp_path / "card.txt"
    two_fits("report", "Ann", "--out", paper, "--as-of", "2026-06-01")
    two_fits("retest", "Ann", "--change", "4", "--card", card, "--as-of", "2026-06-01")
    said = "As believed by fit 1 of 20 May 2026, before what came later."
    assert said in paper.read_text()
    assert said in card.read_text()
    two_fits("report", "Ann", "--out", paper, "--force")
    assert "As believed" not in paper.read_text()


def test_a_day_before_every_fit_is_refused_with_the_fits_there_are(two_fits):
    said = two_fits("show", "Ann", "--as-of", "2026-05-19", code=1).stderr
    assert "no fit of the driver was made on or before 2026-05-19" in said
    assert "fit 1 of 2026-05-20, fit 2 of 2026-06-10" in said
    assert "wanted a date such as" in two_fits("show", "Ann", "--as-of", "May", code=1).stderr


def test_history_without_a_fit_says_what_to_do_first(run):
    assert "load a log first" in run("history", code=1).stderr


def test_history_lists_fits_and_why_neighbours_differ(two_fits):
    found = answer(two_fits("history", "--json"))
    newest, oldest = found["fits"]
    assert (newest["fit_id"], oldest["fit_id"]) == (2, 1)
    assert (newest["sessions"], newest["shots"], newest["seed"]) == (9, 120, 11)
    assert newest["versions"] == {"drive-progress": "0.1.0"}
    assert newest["data_digest"] != oldest["data_digest"]
    assert newest["bytes"] > 1000
    (between,) = found["between"]
    assert (between["from"], between["to"], between["new_shots"]) == (1, 2, 15)
    (level,) = between["levels"]
    assert (level["player"], level["trait"], level["reasons"]) == ("Ann", UP, ["1 new session"])
    assert answer(two_fits("history", "--json", "--compare", "0"))["between"] == []


def test_history_is_said_in_words(two_fits):
    said = " ".join(two_fits("history").stdout.split())
    assert "2 fits kept" in said
    assert "From fit 1 to fit 2 15 shots more: Ann +15 (1 new session)." in said
    assert "1 level moved by more than the change that is worth having" in said
    assert "-9.0 mm" in said
    assert "-2.0 mm" in said


def test_fits_are_removed_on_request_alone(two_fits):
    assert answer(two_fits("history", "--json", "--keep", "1"))["removed"] == [1]
    assert [f["fit_id"] for f in answer(two_fits("history", "--json"))["fits"]] == [2]
    two_fits("history", "--keep", "0", code=1)


def test_a_fit_that_cannot_be_read_is_said_and_the_rest_listed(two_fits, url):
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(update(FIT).where(FIT.c.id == 1).values(draws=b"nothing"))
    engine.dispose()
    found = answer(two_fits("history", "--json"))
    assert len(found["fits"]) == 2
    assert "fit 1 cannot be read" in found["between"][0]["refused"]
    assert "Not compared: fit 1 cannot be read" in two_fits("history").stdout
