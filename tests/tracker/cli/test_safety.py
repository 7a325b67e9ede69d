"""Commands that keep everything safe: what they say, ask and print."""

import json

from tests.tracker.cli.test_people import run, store  # noqa: F401  (a fixture)
from tests.tracker.holdings.test_safety import damaged, folder  # noqa: F401  (fixtures)


def test_backup_and_restore_count_the_same_rows(store, tmp_path):  # noqa: F811
    file = tmp_path / "all.backup"
    done = json.loads(run("backup", file, "--json").stdout)
    assert (done["rows"]["shot"], done["fits"], done["photos"]) == (16, 1, 1)
    assert "nothing was written" in run("backup", file, code=1).stderr
    assert "2 players, 16 shots" in run("backup", file, "--force").stdout
    assert "holds data already" in run("restore", file, code=1).stderr
    again = json.loads(run("restore", file, "--db", tmp_path / "new.db", "--json").stdout)
    assert again == done
    assert "2 players, 16 shots" in run("restore", file, "--force").stdout


def test_check_says_so_when_all_is_well(store):  # noqa: F811
    assert run("check").stdout == "Everything stored is as it should be.\n"
    assert json.loads(run("check", "--json").stdout) == {"ok": True, "problems": []}


def test_check_of_a_damaged_file_ends_with_1_and_the_remedy(damaged):  # noqa: F811
    done = run("check", "--db", damaged, "--json", code=1)
    found = json.loads(done.stdout)
    assert found["ok"] is False
    assert "damaged" in found["problems"][0]["what"]
    assert "drive-progress restore BACKUP" in found["problems"][0]["remedy"]
    said = run("undo", "--db", damaged, code=1).stderr
    assert "nothing was written; put the last backup" in said


def test_check_of_what_cannot_be_opened_or_is_not_there_is_an_answer_too(tmp_path):
    (tmp_path / "text.db").write_text("no database" * 100)
    found = json.loads(run("check", "--db", tmp_path / "text.db", "--json", code=1).stdout)
    assert "not a database" in found["problems"][0]["what"]
    found = json.loads(run("check", "--db", tmp_path / "none.db", "--json", code=1).stdout)
    assert "is not there" in found["problems"][0]["what"]
    assert not (tmp_path / "none.db").exists()
