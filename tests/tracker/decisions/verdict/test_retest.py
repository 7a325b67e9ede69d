"""The retest plan: its chances against brute force, its choice, its advice, its command."""

import json

import numpy as np
import pytest
from scipy import stats
from typer.testing import CliRunner

from models.tendency.jump_filter import JUMP_VARIANCES
from tests.fits import BROKEN, CLEAN, day, make_fit
from tracker.cli.main import app
from tracker.decisions.verdict import trial
from tracker.decisions.verdict.history import player_history
from tracker.decisions.verdict.retest import (
    SHOTS,
    cheapest_design,
    cochran_shots,
    luck_words,
    plan_retest,
)
from tracker.decisions.verdict.trial import SESSIONS
from tracker.errors import BadRequest, NotEnoughData
from tracker.fits.kept_fits import keep_fit
from tracker.records import Change, Shot
from tracker.store.store import Store

TRAIT = "strike_up_mm"
SESSION_SD, SHOT_SD, READING_SD = 2.0, 6.0, 1.0
NEW_DRILL = 5.0**2
"""Variance of new drills' mean effects, the trait table's 5 mm; players differ little here."""


def squad(**more):
    settings = {
        "days": range(0, 56, 7),
        "samples": 200,
        "traits": (TRAIT,),
        "session_sd": {TRAIT: SESSION_SD},
        "shot_sd": {TRAIT: SHOT_SD},
        "reading_sd": {TRAIT: READING_SD},
        "drift": {TRAIT: 1e-4},
        "spread": {TRAIT: 60.0},  # else the judge pulls the baseline toward the squad
        "effect_sd": {TRAIT: 0.1},
    } | more
    return make_fit({"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}}, **settings)


def chances_of(fit, change, shots=15, threshold=0.99, worthwhile=1e-6, seed=1):
    return trial.trial(fit, "Ann", TRAIT, change, shots, worthwhile, threshold, seed).chances()


def test_chance_is_the_power_of_a_normal_test_when_the_scales_are_known():
    """Nothing drifts, so eight earlier sessions give the baseline and n new ones the rest.

    d-hat ~ N(5, s) with s = v/8 + v/n, v = session variance + (shot + reading variance)/shots; a
    prior N(0, V) on the change turns d-hat into a chance Phi(d-hat / sqrt(s) * sqrt(V/(V + s))).
    """
    for shots in (5, 30):
        v = SESSION_SD**2 + (SHOT_SD**2 + READING_SD**2) / shots
        fit = squad(level_sd=float(np.sqrt(v / 8)), shots=shots)
        found = np.mean([chances_of(fit, 5.0, shots, seed=i) for i in range(6)], axis=0)
        for n, p in zip(SESSIONS, found, strict=True):
            s = v / 8 + v / n
            limit = stats.norm.ppf(0.99) * np.sqrt(s) * np.sqrt((NEW_DRILL + s) / NEW_DRILL)
            assert p == pytest.approx(stats.norm.sf((limit - 5.0) / np.sqrt(s)), abs=0.04), n


def test_a_larger_change_more_sessions_and_more_shots_are_easier_to_show():
    fit = squad()
    few, many = chances_of(fit, 4.0, shots=5), chances_of(fit, 4.0, shots=30)
    assert few[0] < many[0]
    assert few[0] < few[-1]
    assert chances_of(fit, 2.0)[4] < chances_of(fit, 4.0)[4]
    assert chances_of(fit, -4.0)[4] == pytest.approx(chances_of(fit, 4.0)[4], abs=0.08)


def test_more_sessions_beat_more_shots():
    """The same 60 shots: two sessions of 30 against twelve of 5."""
    fit = squad()
    assert chances_of(fit, 4.0, 5)[SESSIONS.index(12)] > chances_of(fit, 4.0, 30)[0] + 0.1


def test_a_stricter_verdict_and_days_alike_are_harder_to_satisfy():
    fit = squad()
    usual = chances_of(fit, 3.5)
    assert chances_of(fit, 3.5, threshold=0.9995)[4] < usual[4]
    alike = squad(day_alike={TRAIT: 0.6})
    assert chances_of(alike, 3.5)[4] < usual[4]


def test_players_who_answer_differently_and_changes_nobody_logs_leave_less_sure():
    usual = chances_of(squad(), 3.5)[4]
    assert chances_of(squad(jump_chance=0.6, jump_sd={TRAIT: 7.0}), 3.5)[4] < usual


def futures_of(fit, number=2000, most=12, seed=3):
    history = player_history(fit, "Ann", TRAIT)
    nothing = np.zeros((fit.samples, most))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(trial, "FUTURES", number)
        rng = np.random.default_rng(seed)
        weeks = np.arange(most + 1.0)
        return trial._futures(history, 3.0, weeks, nothing, nothing, rng)


def test_futures_start_at_the_level_and_hold_the_change_asked_for():
    """Level -9 with SD .5, 3 asked for, days of SD 2: SD sqrt(.25 + 4)."""
    found = futures_of(squad())
    assert found.mean(axis=0) == pytest.approx(np.full(12, -6.0), abs=0.2)
    assert found.std(axis=0) == pytest.approx(np.full(12, np.sqrt(4.25)), rel=0.08)


def test_futures_walk_on_by_the_drift():
    """1 mm a root week beside days of SD 2 and a level known to .5 mm: after n weeks n more."""
    walking = futures_of(squad(drift={TRAIT: 1.0}), 20_000)
    assert walking.var(axis=0) == pytest.approx(4.25 + np.arange(1, 13), rel=0.06)


@pytest.mark.parametrize("high", [np.arange(8) < 6, np.arange(8) >= 6], ids=["early", "late"])
def test_what_a_method_reads_too_much_is_taken_out_of_sessions_and_put_into_those_to_come(high):
    """Some sessions read 8 mm too high by a method; those to come are read as the last one was."""
    counts = 15 * np.stack([~high, high])
    settings = {"methods": ("camera", "spray"), "shots": {("Ann", TRAIT): counts}}
    plain = squad(**settings)
    raised = squad(**settings, raw_mean={("Ann", TRAIT): plain.raw_mean[0, :, 0] + 8.0 * high})
    raised.bias[:, 1] = 8.0
    assert chances_of(raised, 3.5) == pytest.approx(chances_of(plain, 3.5), abs=1e-9)
    history = player_history(raised, "Ann", TRAIT)
    assert history.bias == pytest.approx(np.tile(8.0 * high, (raised.samples, 1)))


def test_sessions_to_come_keep_the_players_own_pace():
    """A walk over fortnights is that over weeks with twice the variance a week."""
    weekly = squad(drift={TRAIT: 1.0})
    fortnightly = squad(days=range(0, 112, 14), drift={TRAIT: np.sqrt(0.5)})
    assert chances_of(fortnightly, 3.5) == pytest.approx(chances_of(weekly, 3.5), abs=1e-9)


def test_a_change_begins_on_its_own_day_and_counts_once_a_session_has_followed():
    logged = [Change("Ann", day(d), "drill", f"drill {d}", TRAIT) for d in (21, 49, 50)]
    history = player_history(squad(changes=logged), "Ann", TRAIT)
    assert history.started.sum(axis=1).tolist() == [5, 1]  # weekly from day 0 to day 49


def test_a_verdict_that_says_the_contrary_is_no_success():
    """Ann falls by 3 mm a week unlogged: that is real, and not the rise that was asked for."""
    falling = squad(jumps={("Ann", TRAIT): (np.zeros(200), np.full(200, -3.0))}, jump_chance=0.5)
    assert chances_of(falling, -1.0).max() > 0.5
    assert chances_of(falling, 1.0).max() < 0.02


def test_a_steady_change_goes_on():
    """.5 a week in every draw: after 12 weeks 6 more."""
    going = squad(jumps={("Ann", TRAIT): (np.zeros(200), np.full(200, 0.5))}, jump_chance=0.5)
    assert futures_of(going).mean(axis=0) == pytest.approx(-6.0 + np.arange(1, 13) / 2, abs=0.2)


def test_a_player_who_has_not_changed_unlogged_may_still_do_so():
    """Chance .5 in 26 weeks, two in three of them jumps: 1 - .5^(12/26) = .274, .183 jumps.

    A jump's variance is 49 times 1.75, the mean of the size variances.
    """
    jumping = squad(jump_chance=0.5, jump_sd={TRAIT: 7.0})
    last = futures_of(jumping, 20_000)[:, -1]
    chance = (1 - 0.5 ** (12 / 26)) * 2 / 3
    assert last.var() == pytest.approx(4.25 + chance * 49 * np.mean(JUMP_VARIANCES), rel=0.1)
    done = squad(
        jump_chance=0.5, jump_sd={TRAIT: 7.0}, jumps={("Ann", TRAIT): (np.full(200, 3), 9.0)}
    )
    assert futures_of(done, 20_000)[:, -1].var() == pytest.approx(4.25, rel=0.05)


def test_a_change_too_small_to_matter_is_not_called_real():
    assert chances_of(squad(), 1.0, worthwhile=4.0).max() < 0.2


def test_best_shots_a_session_is_cochrans_formula():
    # shot SD 6, session SD 2, a session costs as much as 16 shots: 6 / 2 * sqrt(16) = 12
    assert cochran_shots(6.0, 2.0, 16.0) == pytest.approx(12.0)


@pytest.fixture(scope="module")
def full():
    return make_fit(
        {"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}},
        days=range(0, 56, 7),
        session_sd={TRAIT: 1.5},
        shot_sd={TRAIT: 5.0},
        drift={TRAIT: 0.1},
    )


@pytest.fixture(scope="module")
def plan(full):
    return plan_retest(full, "Ann", TRAIT, change=5.0, threshold=0.99)


def test_the_cheapest_design_that_is_likely_enough_is_recommended(plan):
    assert len(plan.designs) == len(SESSIONS) * len(SHOTS)
    likely = [d for d in plan.designs if d.p_real >= 0.8]
    best = plan.recommended
    assert best in likely
    assert best.cost_shots == min(d.sessions * (20 + d.shots_per_session) for d in likely)
    assert f"{best.sessions} sessions of {best.shots_per_session} shots" in plan.sentence


def test_a_chance_that_is_given_up_is_one_below_what_is_wanted(full):
    """5 mm is shown in the end and 2 mm never: what is left standing is what is said without."""
    for change, wanted in ((5.0, 0.8), (2.0, 0.8), (2.0, 0.1)):
        one = trial.trial(full, "Ann", TRAIT, change, 10, 1e-6, 0.99)
        whole = one.chances()
        assert one.chances_if(wanted).tolist() == np.where(whole >= wanted, whole, 0.0).tolist()


@pytest.mark.parametrize("effect", [2.0, 9.0], ids=["out of reach", "shown"])
def test_the_cheapest_design_alone_is_the_one_that_the_whole_plan_recommends(effect):
    fit = make_fit(
        {"Ann": {TRAIT: -12.0}, "Bo": {TRAIT: 2.0}}, days=range(0, 56, 7),
        changes=(Change("Bo", day(20), "drill", "tee ladder", TRAIT),),
        drill_effect={"tee ladder": {TRAIT: effect}}, effect_sd={TRAIT: 0.5}, drift={TRAIT: 0.1},
    )  # fmt: skip
    alone = cheapest_design(fit, "Ann", TRAIT, threshold=0.99)
    assert alone == plan_retest(fit, "Ann", TRAIT, threshold=0.99).recommended
    assert (alone is None) == (effect == 2.0)


def test_dear_sessions_ask_for_more_shots_in_fewer_of_them(full, plan):
    dear = plan_retest(full, "Ann", TRAIT, change=5.0, threshold=0.99, session_cost=200.0)
    assert dear.recommended.sessions <= plan.recommended.sessions
    assert dear.recommended.shots_per_session >= plan.recommended.shots_per_session
    assert dear.best_shots > plan.best_shots


def test_left_out_the_change_is_what_the_best_lever_is_expected_to_move(full):
    # a ladder that moved others by 6 mm, and a target more than 6 mm above -9
    ladder = make_fit(
        {"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}}, days=range(0, 56, 7),
        changes=(Change("Bo", day(20), "drill", "tee ladder", TRAIT),),
        drill_effect={"tee ladder": {TRAIT: 6.0}}, effect_sd={TRAIT: 0.5},
    )  # fmt: skip
    found = plan_retest(ladder, "Ann", TRAIT, threshold=0.99)
    assert found.change == pytest.approx(6.0, abs=0.1)
    assert found.change_basis == "what tee ladder is expected to move"
    # of a new drill alone .41 of the 3 mm between players is expected: hardly worthwhile
    alike = make_fit(
        {"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}}, days=range(0, 56, 7), spread={TRAIT: 3.0}
    )
    small = plan_retest(alike, "Ann", TRAIT, threshold=0.99)
    assert small.change == small.worthwhile > 1.3
    assert "a new drill for strike height is expected to move is too little" in small.change_basis
    speed = plan_retest(full, "Ann", "club_speed_mps", threshold=0.99)
    assert speed.change == speed.worthwhile


def test_out_of_reach_is_said_with_the_best_there_is(full):
    found = plan_retest(full, "Ann", TRAIT, change=0.3, threshold=0.99)
    assert found.recommended is None
    assert "cannot be shown within 12 sessions" in found.sentence


def test_days_are_said_to_matter_more_than_shots(plan):
    # 40 shots in one session: sqrt(1.5^2 + 29/40) = 1.7; over four: sqrt(1.5^2/4 + 29/40) = 1.1
    # (29 = shot 5^2 + reading 2^2)
    assert "leave an error of 1.7 mm" in plan.reason
    assert "over four sessions 1.1 mm" in plan.reason


def test_luck_of_the_futures_is_as_large_as_is_said():
    """1.645 SDs of a share of .5 over 400 draws are .041; each seed draws other futures."""
    assert "400 imagined futures and may be off by up to 4 in 100 (90 % sure)" in luck_words()
    found = np.array([chances_of(squad(), 3.0, seed=seed) for seed in range(16)])
    middle = np.argmin(np.abs(found.mean(axis=0) - 0.5))
    assert 0.3 < found[:, middle].mean() < 0.7
    assert 0.012 < found[:, middle].std(ddof=1) < 0.04  # .025 by the binomial, 15 degrees


def test_refusals_name_what_is_wrong(full):
    with pytest.raises(BadRequest, match="change: found 0"):
        plan_retest(full, "Ann", TRAIT, change=0.0, threshold=0.99)
    with pytest.raises(BadRequest, match="session cost"):
        plan_retest(full, "Ann", TRAIT, threshold=0.99, session_cost=-1.0)
    with pytest.raises(NotEnoughData, match="fewer than two sessions"):
        chances_of(squad(shots=0), 3.0)


@pytest.fixture
def run(tmp_path, monkeypatch):
    url = f"sqlite:///{tmp_path / 'shots.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", url)

    def call(fit, *words, code=0):
        with Store.open(url) as store:
            store.add_shots([Shot("Ann", fit.session_start[0, 0].item(), 1, {TRAIT: -9.0})])
            keep_fit(store, fit, store.shots_frame(), sessions=16, shots=240)
        result = CliRunner().invoke(app, ["retest", "Ann", *words])
        assert result.exit_code == code, result.output
        return result

    return call


def test_command_answers_in_json_under_the_keys_of_the_contract(run, full):
    answer = json.loads(run(full, "--trait", TRAIT, "--change", "5", "--json").stdout)
    assert {"trait", "change", "designs", "recommended", "words"} <= set(answer)
    assert (answer["trait"], answer["change"]) == (TRAIT, 5.0)
    assert {"sessions", "shots_per_session", "p_real"} <= set(answer["designs"][0])
    assert answer["recommended"]["p_real"] >= 0.8


def test_command_says_how_far_the_chances_may_be_off(run, full):
    said = " ".join(run(full, "--trait", TRAIT, "--change", "5").stdout.split())
    assert "smaller steps from one design to the next may be luck." in said


def test_practice_card_says_what_to_do_how_often_and_what_to_mind(run, full, tmp_path):
    page, text = tmp_path / "card.html", tmp_path / "card.txt"
    run(full, "--trait", "attack_deg", "--change", "4", "--card", str(page))
    assert "<h1>Practice card: Ann, attack angle" in page.read_text()
    assert "sore back" in page.read_text()
    run(full, "--trait", TRAIT, "--change", "5", "--card", str(text))
    assert "sessions on different days" in text.read_text()
    assert "<" not in text.read_text()


def test_a_card_that_cannot_be_written_is_refused(run, full, tmp_path):
    nowhere = tmp_path / "missing" / "card.html"
    assert "cannot be written" in run(full, "--card", str(nowhere), code=1).output


def test_problems_of_a_fit_forbid_a_recommendation(run):
    broken = make_fit(
        {"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}}, days=range(0, 56, 7), report=BROKEN
    )
    assert cheapest_design(broken, "Ann", TRAIT, threshold=0.99) is None
    answer = json.loads(run(broken, "--trait", TRAIT, "--change", "5", "--json").stdout)
    assert answer["recommended"] is None
    assert answer["problems"]


def test_problems_of_another_trait_forbid_nothing():
    doubtful = make_fit(
        {"Ann": {TRAIT: -9.0}, "Bo": {TRAIT: 2.0}},
        days=range(0, 56, 7),
        session_sd={TRAIT: 1.5},
        reports={TRAIT: CLEAN, "attack_deg": BROKEN},
    )
    found = plan_retest(doubtful, "Ann", TRAIT, change=8.0, threshold=0.99)
    assert found.recommended is not None
    assert not found.problems
