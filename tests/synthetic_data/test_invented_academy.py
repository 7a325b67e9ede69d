"""The logs of the invented academy show what was planted, within the planted noise."""

import ast
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import synthetic_data
from synthetic_data import AcademySpec, PlannedDrill, make_academy, truth_record
from synthetic_data.spec import BALL_TRAITS, TRAITS

CLUB = list(TRAITS)
KEYS = ["player", "session"]

# worked out by hand from the mid tier: shot SD x share (toe 9 x .32, up 6.5 x .35, ...)
SESSION_SD = [2.88, 2.275, 0.456, 0.35 * 1.4 * 0.44704, 0.416, 0.648, 0.66]
DRIFT_SD = [0.45, 0.325, 0.072, 0.05 * 1.4 * 0.44704, 0.065, 0.09, 0.088]


@pytest.fixture(scope="module")
def quiet():
    """A large academy without drills or ball."""
    return make_academy(11, AcademySpec(players=60, sessions=20, drills=(), ball_data=False))


@pytest.fixture(scope="module")
def demo():
    return make_academy(2026)


def scatter(academy):
    """Return each true shot less its tendency and session effect."""
    level = academy.tendencies[CLUB].to_numpy() + academy.session_effects[CLUB].to_numpy()
    rows = np.repeat(np.arange(len(level)), academy.season.shots)
    return academy.true_shots[CLUB].to_numpy() - level[rows], rows


def planted_shot_sd(academy):
    rows = np.repeat(academy.season.player_idx, academy.season.shots)
    return np.stack([p.shot_sd for p in academy.players])[rows]


def test_same_seed_same_academy_other_seed_another(demo):
    again, other = make_academy(2026), make_academy(2027)
    pd.testing.assert_frame_equal(demo.shots, again.shots)
    assert truth_record(demo) == truth_record(again)
    assert not np.array_equal(demo.tendencies[CLUB].iloc[:5], other.tendencies[CLUB].iloc[:5])


def test_leaving_the_ball_out_leaves_the_club_readings(demo):
    bare = make_academy(2026, AcademySpec(ball_data=False))
    assert not set(BALL_TRAITS) & set(bare.shots.columns)
    with_ball, without = demo.shots[CLUB].to_numpy(), bare.shots[CLUB].to_numpy()
    both = ~np.isnan(with_ball) & ~np.isnan(without)
    np.testing.assert_array_equal(with_ball[both], without[both])
    # a row without any reading is never logged, so a shot with only ball data gains its club
    assert both.sum() >= (~np.isnan(without)).sum() - 5 * 20


def test_shots_scatter_around_tendency_plus_session_effect_with_the_planted_sd(quiet):
    rest, _ = scatter(quiet)
    z = rest / planted_shot_sd(quiet)
    n = len(z)
    # mean 0; variance of a mean square of a t5 variable: excess kurtosis 6, so (2 + 6) / n
    assert (np.abs(z.mean(axis=0)) < 4 / np.sqrt(n)).all()
    assert (np.abs((z**2).mean(axis=0) - 1) < 5 * np.sqrt(8 / n)).all()


def test_tails_are_those_of_student_t_with_five_degrees_of_freedom(quiet):
    rest, _ = scatter(quiet)
    share = (np.abs(rest / planted_shot_sd(quiet)) > 3).mean()
    # unit-variance t5 beyond 3: t = 3 x sqrt(5/3); a normal would give .0027
    assert 2 * stats.t.sf(3 * np.sqrt(5 / 3), 5) == pytest.approx(0.0117, abs=2e-4)
    assert share == pytest.approx(0.0117, abs=0.0015)


def test_session_effects_have_one_planted_sd_a_trait(quiet):
    effects = quiet.session_effects[CLUB].to_numpy()
    tolerance = 4 / np.sqrt(2 * len(effects))
    np.testing.assert_allclose(effects.std(axis=0), SESSION_SD, rtol=tolerance)
    assert list(truth_record(quiet)["session_sd"].values()) == pytest.approx(SESSION_SD, rel=1e-5)


def test_session_sd_can_follow_the_player():
    spec = AcademySpec(
        players=60, sessions=20, drills=(), ball_data=False, session_sd_follows_player=True
    )
    academy = make_academy(3, spec)
    tier = np.array([p.tier for p in academy.players])[academy.season.player_idx]
    up = academy.session_effects["strike_up_mm"].to_numpy()
    # .35 of the tier's shot SD, 4.5 and 8.5 mm
    assert up[tier == "elite"].std() == pytest.approx(0.35 * 4.5, rel=0.2)
    assert up[tier == "high"].std() == pytest.approx(0.35 * 8.5, rel=0.2)


def test_levels_walk_with_the_planted_weekly_sd_from_the_baseline(quiet):
    level = quiet.tendencies[CLUB].to_numpy()
    same = np.diff(quiet.season.player_idx) == 0
    weeks = np.diff(quiet.season.day)[same] / 7
    steps = np.diff(level, axis=0)[same] / np.sqrt(weeks)[:, None]
    np.testing.assert_allclose(steps.std(axis=0), DRIFT_SD, rtol=4 / np.sqrt(2 * len(steps)))
    for i, player in enumerate(quiet.players):
        np.testing.assert_allclose(level[quiet.season.of_player(i)[0]], player.baseline)


def test_traits_of_a_shot_move_together_as_planted(quiet):
    rest, rows = scatter(quiet)
    owner = quiet.season.player_idx[rows]
    gaps = []
    for i, player in enumerate(quiet.players):
        mine = rest[owner == i]
        found = np.corrcoef(mine.T)
        # Fisher's z, with a rough factor for the heavy tails
        gap = (np.arctanh(found - np.eye(7)) - np.arctanh(player.shot_correlation - np.eye(7))) * (
            np.sqrt(len(mine))
        )
        gaps.append(gap[np.triu_indices(7, 1)])
    assert np.abs(np.mean(gaps, axis=0)).max() < 4 * 2 / np.sqrt(len(gaps))
    assert np.mean([p.shot_correlation[1, 2] for p in quiet.players]) == pytest.approx(-0.24, 0.1)


def test_delivered_loft_follows_attack_by_kappa(quiet):
    rest, _ = scatter(quiet)
    attack, loft = rest[:, 2], rest[:, 4]
    assert (attack @ loft) / (attack @ attack) == pytest.approx(0.6, abs=0.04)
    effects = quiet.session_effects
    slope = (effects["attack_deg"] @ effects["loft_deg"]) / (
        effects["attack_deg"] @ effects["attack_deg"]
    )
    assert slope == pytest.approx(0.6, abs=0.1)


@pytest.mark.parametrize(
    ("kind", "method", "trait", "bias", "sd"),
    [
        ("strike", "photo", "strike_toe_mm", 0.0, 1.0),
        ("strike", "photo", "strike_up_mm", 0.0, 1.0),
        ("strike", "spray", "strike_toe_mm", 1.5, 2.5),
        ("strike", "spray", "strike_up_mm", -2.0, 2.5),
        ("delivery", "radar", "attack_deg", 0.0, 0.5),
        ("delivery", "radar", "loft_deg", 0.0, 0.6),
        ("delivery", "camera", "attack_deg", -0.6, 0.4),
        ("delivery", "camera", "loft_deg", 0.7, 0.4),
        ("delivery", "camera", "path_deg", 0.0, 0.4),
    ],
)
def test_each_method_reads_with_its_planted_bias_and_error(quiet, kind, method, trait, bias, sd):
    used = (quiet.shots[f"{kind}_method"] == method).to_numpy() & good(quiet, trait)
    error = (quiet.shots[trait] - quiet.true_shots[trait])[used]
    assert error.mean() == pytest.approx(bias, abs=4 * sd / np.sqrt(len(error)))
    assert error.std() == pytest.approx(sd, rel=4 / np.sqrt(2 * len(error)))
    record = truth_record(quiet)["methods"][kind][method]
    assert record["bias"].get(trait, 0.0) == bias
    assert record["sd"][trait] == sd


def good(academy, trait):
    """Return which readings of a trait are present and not gross misreads."""
    wrong = academy.misreads[academy.misreads["trait"] == trait]
    wrong_keys = set(zip(wrong["player"], wrong["session"], wrong["shot"], strict=True))
    shots = academy.shots
    keys = zip(shots["player"], shots["session"], shots["shot"], strict=True)
    return shots[trait].notna().to_numpy() & np.array([k not in wrong_keys for k in keys])


def test_bias_of_spray_shows_where_players_change_method(quiet):
    """Paired within player: sessions by spray less sessions by photo, levels aside."""
    sessions = quiet.shots[quiet.shots["strike_method"] != ""].copy()
    level = quiet.tendencies[[*KEYS, "strike_up_mm"]]
    sessions = sessions.merge(level, on=KEYS, suffixes=("", "_level"))
    sessions["rest"] = sessions["strike_up_mm"] - sessions["strike_up_mm_level"]
    means = sessions.pivot_table(values="rest", index="player", columns="strike_method")
    paired = (means["spray"] - means["photo"]).dropna()
    assert len(paired) >= 15
    assert paired.mean() == pytest.approx(-2.0, abs=4 * paired.std() / np.sqrt(len(paired)))


def test_gross_misreads_are_about_one_in_a_hundred_and_gross(quiet):
    strike = quiet.misreads["trait"].str.startswith("strike")
    read = quiet.shots["strike_up_mm"].notna().sum()
    assert strike.sum() / read == pytest.approx(0.01, abs=4 * np.sqrt(0.01 / read))
    joined = quiet.misreads.merge(quiet.shots, on=[*KEYS, "shot"]).merge(
        quiet.true_shots, on=[*KEYS, "shot"], suffixes=("", "_true")
    )
    # smallest planted gross error, less bias and four reading SDs
    smallest = {"strike_up_mm": 15 - 2 - 10, "attack_deg": 6 - 0.6 - 2, "club_speed_mps": 4.6}
    for trait, least in smallest.items():
        rows = joined[joined["trait"] == trait]
        assert len(rows) > 10
        assert ((rows[trait] - rows[f"{trait}_true"]).abs() > least).all()


def test_missing_readings_are_as_planted():
    spec = AcademySpec(players=40, sessions=20, drills=())
    academy = make_academy(8, spec)
    shots = academy.shots
    rows = np.repeat(np.arange(len(academy.season.day)), academy.season.shots)
    strike_there = academy.season.has_strike[rows]
    ball_there = academy.season.has_ball[rows]
    n = len(shots)
    for trait, present, share in (
        ("strike_up_mm", strike_there & ~shots["missed_face"].to_numpy(), 0.04),
        ("attack_deg", np.ones(n, dtype=bool), 0.05),
        ("carry_m", ball_there, 0.07),
    ):
        found = shots.loc[present, trait].isna().mean()
        assert found == pytest.approx(share, abs=4 * np.sqrt(share / present.sum()) + 0.002)
    sessions = len(academy.season.day)
    assert academy.season.has_strike.mean() == pytest.approx(0.94, abs=4 * np.sqrt(0.06 / sessions))
    assert academy.season.has_ball.mean() == pytest.approx(0.88, abs=4 * np.sqrt(0.12 / sessions))
    assert shots.loc[~strike_there, "strike_toe_mm"].isna().all()
    assert shots.loc[~ball_there, list(BALL_TRAITS)].isna().all(axis=None)
    assert shots[[*CLUB, *BALL_TRAITS]].notna().any(axis=1).all()


def test_missed_face_marks_exactly_the_strikes_off_the_readable_face(demo):
    toe, up = demo.true_shots["strike_toe_mm"], demo.true_shots["strike_up_mm"]
    off = (toe / 50) ** 2 + (up / 28) ** 2 > 1
    has_strike = np.repeat(demo.season.has_strike, demo.season.shots)
    np.testing.assert_array_equal(demo.shots["missed_face"], off & has_strike)
    assert 3 <= demo.shots["missed_face"].sum() <= 40
    assert demo.shots.loc[demo.shots["missed_face"], "strike_up_mm"].isna().all()


def test_signs_are_the_players_own_so_a_left_hander_differs_in_nothing_but_the_hand():
    right = make_academy(6, AcademySpec(left_handers=0))
    left = make_academy(6, AcademySpec(left_handers=14))
    assert set(right.shots["handed"]) == {"right"}
    assert set(left.shots["handed"]) == {"left"}
    pd.testing.assert_frame_equal(
        right.shots.drop(columns="handed"), left.shots.drop(columns="handed")
    )


@pytest.mark.parametrize("handed", ["left", "right"])
def test_in_the_demo_an_open_face_goes_to_the_open_face_side_for_both_hands(demo, handed):
    shots = demo.true_shots[(demo.shots["handed"] == handed).to_numpy()]
    assert np.corrcoef(shots["face_deg"], shots["side_deg"])[0, 1] > 0.6
    face_to_path = shots["face_deg"] - shots["path_deg"]
    assert np.corrcoef(face_to_path, shots["axis_deg"])[0, 1] > 0.6
    # gear effect: with face and path held, a toe strike tilts the axis toward the draw
    known = np.column_stack([np.ones(len(shots)), face_to_path, shots["strike_toe_mm"]])
    slopes = np.linalg.lstsq(known, shots["axis_deg"], rcond=None)[0]
    assert slopes[2] < -0.2


def test_ball_data_of_the_demo_is_what_drivers_do(demo):
    # common practice, no source: smash factor up to 1.5, spin 1500 to 5000 rpm, and so on
    true = demo.true_shots
    smash = true["ball_speed_mps"] / true["club_speed_mps"]
    assert smash.max() < 1.52
    assert 1.36 < smash.median() < 1.48
    assert 2000 < true["spin_rpm"].median() < 3600
    assert (true["total_m"] > true["carry_m"] - 8.0).all()
    tier = demo.true_shots["player"].map({p.name: p.tier for p in demo.players})
    by_tier = true.groupby(tier)["carry_m"].mean()
    assert by_tier["high"] < by_tier["mid"] < by_tier["elite"]
    # yards per mph of club speed between players of one world: about 2.5 to 3
    slope = np.polyfit(true["club_speed_mps"], true["carry_m"], 1)[0] / 0.9144 * 0.44704
    assert 1.8 < slope < 3.5


def test_the_demo_is_the_academy_that_was_asked_for(demo):
    assert len(demo.players) == 14
    assert sum(p.handed == "left" for p in demo.players) == 2
    assert {p.tier for p in demo.players} == {"elite", "mid", "high"}
    assert demo.shots.groupby(KEYS)["shot"].max().between(12, 24).all()
    sessions = demo.tendencies.groupby("player").size()
    assert sessions.max() == 10
    assert 2 <= (sessions < 10).sum() <= 5
    for kind in ("strike_method", "delivery_method"):
        used = demo.shots[demo.shots[kind] != ""].groupby("player")[kind].nunique()
        assert 2 <= (used == 2).sum() <= 8
    given = pd.Series([c.name for c in demo.changes]).value_counts()
    assert len(given) == 3
    assert given.between(5, 8).all()
    assert {c.kind for c in demo.changes} == {"drill"}


@pytest.mark.parametrize("seed", range(5))
def test_every_date_lies_in_the_season_and_once_a_player(seed):
    academy = make_academy(seed, AcademySpec(ball_data=False))
    dates = academy.tendencies["session"]
    assert date(2026, 3, 1) <= min(dates)
    assert max(dates) <= date(2026, 8, 31)
    assert not academy.tendencies.duplicated(KEYS).any()
    for change in academy.changes:
        mine = dates[academy.tendencies["player"] == change.player]
        assert (mine < change.start).sum() >= 2
        assert (mine >= change.start).sum() >= 2


@pytest.mark.parametrize(
    ("wrong", "found"),
    [
        ({"sessions": 400}, "400"),
        ({"players": 0}, "0 players"),
        ({"shots": (5, 4)}, "(5, 4)"),
        ({"tail_df": 2.0}, "2.0"),
        ({"drills": (PlannedDrill("x", "grip", 1, 0, 1, players=1),)}, "grip"),
    ],
)
def test_an_impossible_specification_is_refused_with_the_value(wrong, found):
    with pytest.raises(ValueError, match=r"found|wanted") as refused:
        AcademySpec(**wrong)
    assert found in str(refused.value)


def test_nothing_under_test_is_imported():
    for path in Path(synthetic_data.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            assert not {n.split(".")[0] for n in names} & {"models", "tracker", "pymc"}, path.name
