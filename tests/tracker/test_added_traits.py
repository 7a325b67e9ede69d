"""A trait is one row of the table: with two rows added, the whole program knows two traits more."""

import os
import subprocess
import sys
from pathlib import Path

from models.drive.drive import DELIVERY_RANGES
from models.traits import DELIVERY, MODELLED, TRAITS
from tests.fits import make_fit
from tests.tracker.added_traits.log import EARLIER, LEVELS, OLD, shot_log
from tests.tracker.pages.academy import keep
from tracker.decisions.distance.explain import GROUPS
from tracker.store.loading import load_shots
from tracker.store.store import Store

ROOT = Path(__file__).parents[2]
PLUGIN = "tests.tracker.added_traits.table"
CHECKS = "tests/tracker/added_traits/checks.py"
ONLY = os.environ.get("DRIVE_PROGRESS_CHECK", "")
"""Part of the names of the checks to run; all of them unless given."""


def test_two_rows_more_go_through_the_whole_program(tmp_path):
    url = f"sqlite:///{tmp_path / 'academy.db'}"
    with Store.open(url) as store:  # as a database of today is: without the new columns
        load_shots(store, shot_log(range(EARLIER), OLD))
        keep(store, make_fit({name: {} for name in LEVELS}))
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            PLUGIN,
            "-p",
            "no:cacheprovider",
            "-k",
            ONLY,
            CHECKS,
        ],
        cwd=ROOT,
        env={**os.environ, "DRIVE_PROGRESS_DB": url, "COLUMNS": "200"},  # no cell is wrapped
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_rows_say_what_their_goal_needs():
    for name, row in TRAITS.items():
        assert row.name == name
        assert row.positive != row.negative
        assert (row.goal == "none") or (row.prior is not None), name
        if row.drive is not None:
            assert row.goal != "none", name
            assert row.prior is not None
            assert {row.drive.turns, row.drive.drags} <= {"", *DELIVERY}
    assert {t for t in MODELLED if TRAITS[t].words is None} == set()


def test_every_trait_that_decides_a_drive_is_known_to_the_flight_and_to_an_explanation():
    assert set(DELIVERY) == set(DELIVERY_RANGES)
    assert sorted(t for traits in GROUPS.values() for t in traits) == sorted(DELIVERY)
