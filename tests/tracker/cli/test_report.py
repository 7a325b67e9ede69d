"""``report`` writes a page for paper, refuses plainly, and writes over nothing unasked."""

import json

import pytest
from typer.testing import CliRunner

from tests.tracker.report.papers import squad_fit
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.store.loading import load_shots
from tracker.store.store import Store

LOG = "player,session,strike_up_mm,strike_toe_mm\nAnn,2026-01-01,-4.0,2.0\nAnn,2026-01-01,-6.5,1\n"


@pytest.fixture
def database(tmp_path):
    (tmp_path / "log.csv").write_text(LOG)
    url = f"sqlite:///{tmp_path / 'shots.db'}"
    with Store.open(url) as store:
        load_shots(store, tmp_path / "log.csv")
        keep_fit(store, squad_fit(), store.shots_frame(), sessions=1, shots=2)
    return url


def run(*words, database):
    return CliRunner().invoke(app, ["report", *map(str, words), "--db", database])


def test_a_player_gets_one_page_as_pdf(database, tmp_path):
    out = tmp_path / "ann.pdf"
    done = run("Ann", "--out", out, "--json", database=database)
    assert done.exit_code == 0, done.stderr
    answer = json.loads(done.stdout)
    assert answer.pop("fitted_at")
    assert answer == {
        "path": str(out),
        "pages": 1,
        "problems": [],
        "fit_id": 1,
        "not_stored": ["Bob", "Cleo"],
    }
    assert out.read_bytes().startswith(b"%PDF-")


def test_a_squad_gets_html_with_its_players(database, tmp_path):
    out = tmp_path / "squad.html"
    done = run("--squad", "--out", out, "--units", "metres", database=database)
    assert done.exit_code == 0, done.stderr
    assert "1 page written" in done.stdout
    assert "Cleo" in out.read_text()


def test_what_is_there_is_written_over_only_when_told_to(database, tmp_path):
    out = tmp_path / "ann.html"
    out.write_text("mine")
    refused = run("Ann", "--out", out, database=database)
    assert refused.exit_code == 1
    assert "--force" in refused.stderr
    assert out.read_text() == "mine"
    assert run("Ann", "--out", out, "--force", database=database).exit_code == 0
    assert "Ann" in out.read_text()


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("Zoe", "--out", "z.pdf"), 1, "'Zoe' is not in the fit"),
        (("Ann", "--out", "z.doc"), 1, "wanted a name that ends in .pdf or .html"),
        (("Ann", "--squad", "--out", "z.pdf"), 2, "name one player"),
        (("--out", "z.pdf"), 2, "name one player"),
        (("Ann", "--out", "nowhere/z.pdf"), 1, "cannot be written"),
    ],
)
def test_what_cannot_be_made_is_refused_plainly(words, code, said, database, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run(*words, database=database)
    assert done.exit_code == code
    assert said in done.stderr
    assert not list(tmp_path.glob("**/z.*"))
