"""One real fit through a real store, small enough for every run of the tests."""

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import models
from models.compiled_code import sources_digest
from models.sampling.sampler import Effort
from models.traits import MODELLED
from synthetic_data import AcademySpec, make_academy, write_academy
from tracker.decisions.checks.predictive import flagged_first, predictive_checks, shot_checks
from tracker.decisions.distance.gain import player_gains
from tracker.decisions.verdict.verdict import judge_change
from tracker.errors import BadRequest, NoFit, NotEnoughData, UnknownPlayer
from tracker.fits.fitting import KEPT_DRAWS, FitRequest, fit_and_keep
from tracker.fits.kept_fits import kept_checks, latest_fit
from tracker.store.loading import load_changes, load_shots
from tracker.store.store import Store

pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("academy")
    spec = AcademySpec(players=8, sessions=6, shots=(10, 14), ball_data=False)
    academy = make_academy(3, spec)
    files = write_academy(academy, folder)
    said = []
    with Store.open(f"sqlite:///{folder / 'shots.db'}") as store:
        load_shots(store, files.shots)
        load_changes(store, files.changes)
        kept = fit_and_keep(
            store,
            FitRequest(seed=5, references=("photo", "radar")),
            progress=lambda phase, done, total: said.append((phase, done, total)),
        )
        yield academy, store, kept, said


def test_the_fit_is_clean_and_stored_with_its_report(fitted):
    _, store, kept, _ = fitted
    stored = latest_fit(store)
    assert stored.info.fit_id == kept.fit_id
    assert stored.info.report.problems == ()
    assert stored.info.report.min_ess >= 400
    assert stored.info.reports == kept.fit.info.reports
    assert set(stored.info.reports) == set(MODELLED)
    assert stored.info.data_digest == store.data_digest()
    assert stored.info.seed == 5
    assert "pymc" in stored.info.versions
    assert stored.info.versions["model"] == sources_digest(Path(models.__file__).parent)[:8]
    np.testing.assert_array_equal(stored.level, kept.fit.level)
    assert stored.samples == KEPT_DRAWS


def test_predictive_checks_are_kept_with_the_fit(fitted):
    _, store, kept, _ = fitted
    checks = kept_checks(store, kept.fit_id)
    log = store.shots_frame(club="driver")
    anew = flagged_first((*predictive_checks(kept.fit), *shot_checks(log, kept.fit.traits)))
    assert checks == anew
    assert {c.trait for c in checks} == set(MODELLED)
    assert len(checks) == 4 * len(MODELLED)


def test_levels_are_near_the_planted_truth(fitted):
    academy, _, kept, _ = fitted
    last = academy.tendencies.groupby("player").last()
    misses = []
    for player in kept.fit.players:
        for trait in MODELLED:
            draws = kept.fit.of(player.name, trait).now
            misses.append((draws.mean() - last.loc[player.name, trait]) / draws.std())
    assert np.mean(np.abs(misses) < 1.645) > 0.7
    assert np.abs(misses).max() < 5


def test_progress_is_told_and_kept_where_a_page_reads_it(fitted):
    _, store, _, said = fitted
    phases = [phase for phase, _, _ in said]
    # no ball was read: nothing to look at before, and nothing to learn the physics from after
    assert phases[0] == "drawing from the posterior"
    assert phases[-1] == "reading the ball data"
    drawn = [done for phase, done, _ in said if phase == "drawing from the posterior"]
    (total,) = {total for phase, _, total in said if phase == "drawing from the posterior"}
    assert drawn == sorted(drawn)
    assert drawn[-1] <= total
    job = store.job()
    assert (job.state, job.done, job.total, job.pid) == ("done", 1, 1, os.getpid())


def test_named_references_are_unbiased_and_remembered(fitted):
    _, store, kept, _ = fitted
    assert store.setting("reference_methods") == ["photo", "radar"]
    for k, methods in enumerate(kept.fit.methods):
        assert methods[0] in ("photo", "radar")
        assert np.all(kept.fit.bias[:, 0, k] == 0)


def test_a_club_has_fits_of_its_own_and_no_distance(fitted, tmp_path):
    academy, store, kept, _ = fitted
    log = pd.read_csv(write_academy(academy, tmp_path).shots)
    path = tmp_path / "woods.csv"
    few = log["player"].isin(log["player"].unique()[:4])
    log[few].assign(club="fairway wood").to_csv(path, index=False)
    load_shots(store, path)
    found = fit_and_keep(
        store,
        FitRequest(2, Effort(draws=300, tune=300, chains=2), club="fairway wood"),
    )
    assert (found.fit.info.club, len(found.fit.players)) == ("fairway wood", 4)
    assert latest_fit(store).info.fit_id == kept.fit_id
    wood = latest_fit(store, "fairway wood")
    assert wood.info.data_digest == store.data_digest("fairway wood")
    assert wood.day_alike.shape == (wood.samples, len(wood.traits))
    assert np.all((wood.day_alike > 0) & (wood.day_alike < 1))
    name = wood.players[0].name
    with pytest.raises(BadRequest, match="driver alone and this fit is of the fairway wood"):
        player_gains(wood, name)
    judged = judge_change(wood, name, "attack_deg")
    assert judged.p_better is None
    between = wood.spread[:, wood.trait_index("attack_deg")].mean()
    assert judged.worthwhile == pytest.approx(0.2 * between)
    with pytest.raises(NotEnoughData, match=r"'putter'.*driver, fairway wood"):
        fit_and_keep(store, FitRequest(club="putter"))
    with pytest.raises(NoFit, match="fit --club 'putter'"):
        latest_fit(store, "putter")


def test_an_unknown_player_is_refused_by_name(fitted):
    with pytest.raises(UnknownPlayer, match="Nobody"):
        fitted[2].fit.of("Nobody", "attack_deg")


def test_an_empty_store_gives_the_remedy_and_a_failed_job(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'empty.db'}") as store:
        with pytest.raises(NotEnoughData, match="load a shot log first"):
            fit_and_keep(store)
        assert store.job().state == "failed"
        assert store.fits() == ()
