"""The planted drills show in the readings as large as they were planted, and no larger."""

import numpy as np
import pytest

from synthetic_data import AcademySpec, PlannedDrill, make_academy

KEYS = ["player", "session"]


@pytest.fixture(scope="module")
def squad():
    """A large academy with the drills for everyone who can be given them."""
    drills = (
        PlannedDrill("tee-height ladder", "strike_up_mm", 6.0, 1.0, 1.0, players=50),
        PlannedDrill("mirror swings", "path_deg", 0.0, 0.0, 0.0, players=25, given_to="slump"),
        PlannedDrill("forward ball position", "attack_deg", 2.5, 0.0, 0.5, players=40),
    )
    spec = AcademySpec(
        players=60, sessions=14, drills=drills, ball_data=False, method_switch_share=0.0
    )
    return make_academy(12, spec)


def paired_change(academy, drill, trait, *, before=None, after=None):
    """Return mean reading after less before the start, one value a player, and the truth."""
    sessions = academy.shots.groupby(KEYS, sort=False)[trait].mean().dropna().reset_index()
    found, effects = [], []
    for change in academy.changes:
        if change.name != drill:
            continue
        mine = sessions[sessions["player"] == change.player]
        early = mine.loc[mine["session"] < change.start, trait].tail(before or len(mine))
        late = mine.loc[mine["session"] >= change.start, trait].head(after or len(mine))
        if len(early) and len(late):
            found.append(late.mean() - early.mean())
            effects.append(change.effect)
    return np.array(found), np.array(effects)


def standard_error(values):
    return values.std(ddof=1) / np.sqrt(len(values))


def test_the_tee_height_ladder_raises_the_strike_by_six_millimetres(squad):
    found, effects = paired_change(squad, "tee-height ladder", "strike_up_mm")
    assert len(found) >= 45
    assert effects.mean() == pytest.approx(6.0, abs=4 / np.sqrt(len(effects)))
    assert effects.std() == pytest.approx(1.0, rel=0.4)
    # recorded effects explain the readings: what is left averages zero
    left = found - effects
    assert abs(left.mean()) < 4 * standard_error(left)
    assert left.std() < found.mean()


def test_the_forward_ball_position_works_for_half_and_drags_loft_along(squad):
    found, effects = paired_change(squad, "forward ball position", "attack_deg")
    assert sorted(set(effects)) == [0.0, 2.5]
    assert (effects == 2.5).sum() == len(effects) / 2
    for planted in (0.0, 2.5):
        some = found[effects == planted]
        assert some.mean() == pytest.approx(planted, abs=4 * standard_error(some))
    loft, effects = paired_change(squad, "forward ball position", "loft_deg")
    some = loft[effects == 2.5]
    assert some.mean() == pytest.approx(0.6 * 2.5, abs=4 * standard_error(some))


def test_mirror_swings_do_nothing_but_look_good_against_the_day_before(squad):
    one_day, effects = paired_change(squad, "mirror swings", "path_deg", before=1, after=1)
    assert (effects == 0).all()
    assert one_day.mean() > 4 * standard_error(one_day)  # regression to the mean
    level = squad.tendencies.groupby("player", sort=False)["path_deg"]
    treated = [c.player for c in squad.changes if c.name == "mirror swings"]
    walked = (level.last() - level.first())[treated]
    assert abs(walked.mean()) < 4 * standard_error(walked)


def test_worst_means_the_lowest_reading_in_the_session_before():
    drill = PlannedDrill("mirror swings", "attack_deg", 0.0, 0.0, 0.0, players=8, given_to="worst")
    spec = AcademySpec(players=40, drills=(drill,), ball_data=False, delivery_missing_share=0.0)
    academy = make_academy(4, spec)
    treated = {c.player for c in academy.changes}
    assert len(treated) == 8
    before = {}
    for i, player in enumerate(academy.players):
        days = academy.season.of_player(i)
        if len(days) >= 6:
            before[player.name] = academy.tendencies["attack_deg"][days[len(days) // 2 - 1]]
    others = [v for k, v in before.items() if k not in treated]
    assert np.mean([before[k] for k in treated]) < np.quantile(others, 0.2)


def test_nobody_gets_two_drills_on_one_trait():
    twice = tuple(
        PlannedDrill(name, "attack_deg", 1.0, 0.0, 1.0, players=8) for name in ("first", "second")
    )
    academy = make_academy(5, AcademySpec(drills=twice, ball_data=False, short_season_share=0.0))
    players = [c.player for c in academy.changes]
    assert len(players) == len(set(players)) == 14
