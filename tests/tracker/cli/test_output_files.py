"""Files that a command writes: never over another one without a yes, for their owner alone."""

import stat

import pytest
from typer.testing import CliRunner

from tests.tracker.cli.test_main import store_fit
from tracker.cli.main import app


@pytest.fixture
def retest(tmp_path, monkeypatch):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{tmp_path / 'shots.db'}")
    store_fit(tmp_path)
    card = tmp_path / "card.txt"

    def call(*more, answer=None):
        words = ["retest", "Ann", "--change", "8", "--card", str(card), *more]
        return CliRunner().invoke(app, words, input=answer), card

    return call


def test_a_card_is_new_for_its_owner_alone_and_needs_no_question(retest):
    done, card = retest()
    assert done.exit_code == 0, done.output
    assert "Practice card: Ann" in card.read_text()
    assert stat.S_IMODE(card.stat().st_mode) == 0o600


@pytest.mark.parametrize("said", ["n\n", "\n", None])
def test_a_card_is_not_written_over_without_a_yes(retest, said):
    _, card = retest()
    card.write_text("mine")
    done, _ = retest(answer=said)
    assert done.exit_code == 1
    assert "nothing was written; --force writes over it" in done.stderr
    assert card.read_text() == "mine"


@pytest.mark.parametrize(("more", "said"), [(("--force",), None), ((), "y\n")])
def test_a_card_is_written_over_when_told_to(retest, more, said):
    _, card = retest()
    card.write_text("mine")
    done, _ = retest(*more, answer=said)
    assert done.exit_code == 0, done.output
    assert "Practice card: Ann" in card.read_text()
