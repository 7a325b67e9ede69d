"""Is the scatter smaller: against the F test's interval, misreads, reading error, few shots."""

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from models.traits import MODELLED
from tests.fits import day
from tracker.decisions.verdict import consistency
from tracker.decisions.verdict.consistency import judge_consistency, looser_scatter
from tracker.decisions.verdict.threshold import upper_limit
from tracker.errors import BadRequest, NotEnoughData
from tracker.player_trait import Window

TRAIT = "strike_toe_mm"
BEFORE, AFTER = Window(day(0), day(27)), Window(day(28), day(60))


def shots(before, after, *, method="photo", seed=3, others=4, each=20, days=(0, 7, 14, 21)):
    """Ann's sessions before and after with given shot SDs, and others who do not change."""
    rng = np.random.default_rng(seed)
    rows = []
    players = [("Ann", before, after)] + [(f"B{i}", 9.0, 9.0) for i in range(others)]
    for name, *sds in players:
        for start, sd in zip((0, 28), sds, strict=True):
            for d in days:
                values = rng.normal(0, 3) + sd * rng.standard_normal(each)
                rows += [(name, day(start + d), v) for v in values]
    frame = pd.DataFrame(rows, columns=["player", "session", TRAIT])
    frame["session"] = pd.to_datetime(frame["session"])
    for other in MODELLED:
        if other != TRAIT:
            frame[other] = np.nan
    return frame.assign(handed="right", strike_method=method, delivery_method="unstated")


def judged(frame, **more):
    return judge_consistency(frame, "Ann", TRAIT, BEFORE, AFTER, **more)


def own(frame, window):
    part = frame[(frame["player"] == "Ann") & (frame["session"] >= pd.Timestamp(window.start))]
    return part[part["session"] <= pd.Timestamp(window.end)]


def test_interval_is_that_of_the_f_distribution_but_for_the_prior():
    """Classical: SD ratio^2 / F. Photo readings add 1 mm; 4 x 200 shots outweigh the prior."""
    frame = shots(9.0, 6.0, each=200)
    found = judged(frame)
    squares = [
        own(frame, w).groupby("session")[TRAIT].var(ddof=1).mean() - 1.0 for w in (BEFORE, AFTER)
    ]
    ratio = squares[1] / squares[0]
    df = 4 * 199
    low, high = (np.sqrt(ratio * stats.f.ppf(q, df, df)) for q in (0.05, 0.95))
    assert found.ratio.median == pytest.approx(np.sqrt(ratio), rel=0.01)
    assert found.ratio.low90 == pytest.approx(low, rel=0.02)
    assert found.ratio.high90 == pytest.approx(high, rel=0.02)
    assert (found.verdict, found.direction) == ("real-worthwhile", "tighter")


def test_few_shots_are_drawn_toward_no_change():
    frame = shots(9.0, 5.0, each=6, days=(0, 7))
    squares = [own(frame, w).groupby("session")[TRAIT].var(ddof=1).mean() for w in (BEFORE, AFTER)]
    raw = np.sqrt(squares[1] / squares[0])
    found = judged(frame)
    assert raw < found.ratio.median < 1
    assert found.verdict in ("cannot-tell", "leaning")


def test_the_same_scatter_is_called_so_with_enough_shots():
    found = judged(shots(9.0, 9.0, each=300))
    assert found.verdict == "no-worthwhile-change"
    assert found.direction is None
    assert found.p_no_worthwhile >= 0.9


def test_looser_is_told_from_tighter():
    found = judged(shots(6.0, 10.0, each=80))
    assert found.direction == "looser"
    assert found.p_smaller < 0.01


def test_reading_error_is_taken_out():
    """Spray readings add 2.5 mm: true SDs 4 and 2.8 show as 4.7 and 3.8, a ratio of .8, not .7."""
    rng = np.random.default_rng(8)
    frame = shots(4.0, 2.828, method="spray", each=400, others=2)
    frame[TRAIT] += 2.5 * rng.standard_normal(len(frame))
    found = judged(frame)
    squares = [own(frame, w).groupby("session")[TRAIT].var(ddof=1).mean() for w in (BEFORE, AFTER)]
    freed = np.sqrt((squares[1] - 6.25) / (squares[0] - 6.25))
    assert freed < np.sqrt(squares[1] / squares[0]) - 0.03
    assert found.ratio.median == pytest.approx(freed, abs=0.015)
    assert found.sd_before.median == pytest.approx(4.0, rel=0.06)


def test_a_gross_misread_does_not_make_the_shots_look_wild():
    frame = shots(9.0, 9.0, each=40)
    clean = judged(frame).ratio.median
    late = frame.index[(frame["player"] == "Ann") & (frame["session"] >= pd.Timestamp(day(28)))]
    frame.loc[late[0], TRAIT] += 400.0
    assert judged(frame).ratio.median == pytest.approx(clean, rel=0.02)


def test_heavy_tails_widen_the_interval():
    def width(values):
        found = judged(values)
        return found.ratio.high90 / found.ratio.low90

    normal = shots(9.0, 9.0, each=60, others=8)
    tails = normal.copy()
    rng = np.random.default_rng(5)
    tails[TRAIT] = 9.0 * rng.standard_t(5, len(tails)) * np.sqrt(3 / 5)
    assert width(tails) > 1.1 * width(normal)


def test_one_session_is_not_a_habit():
    frame = shots(9.0, 3.0, each=60)
    days = frame["session"].dt.date
    frame = frame[(frame["player"] != "Ann") | (days <= day(28))]
    found = judged(frame)
    assert found.verdict == "cannot-tell"
    assert "one day's scatter" in found.guards[0]


def test_the_threshold_is_the_callers():
    frame = shots(9.0, 7.6, each=50)
    strict, loose = judged(frame, threshold=0.9999), judged(frame, threshold=0.9)
    assert strict.p_smaller == loose.p_smaller
    assert 0.9 <= loose.p_smaller < 0.9999
    assert strict.verdict == "leaning"
    assert loose.verdict in ("real-worthwhile", "real-size-unclear")


def with_copies(frame, times):
    """Let the later days come again, reading by reading, so many times."""
    late = frame[(frame["player"] == "Ann") & (frame["session"] >= pd.Timestamp(day(28)))]
    copies = [
        late.assign(session=late["session"] + pd.Timedelta(days=28 * n))
        for n in range(1, times + 1)
    ]
    return pd.concat([frame, *copies], ignore_index=True)


def test_further_sessions_like_the_latest_settle_it_when_said():
    frame = shots(9.0, 8.0, each=60)
    found = judged(frame)
    assert found.verdict == "leaning"
    words = re.fullmatch(
        r"About (\d+) more sessions of 60 shots should settle it, if they scatter like the "
        r"latest\.",
        found.settle,
    )
    more = int(words[1])
    assert more > 1

    def later(times):
        last = Window(AFTER.start, day(60 + 28 * times))
        return judge_consistency(with_copies(frame, times), "Ann", TRAIT, BEFORE, last)

    assert later(-(-more // 4)).verdict.startswith("real")
    assert later((more - 1) // 4).verdict == "leaning"


def test_a_settled_scatter_says_so_and_a_lone_day_asks_for_another():
    assert judged(shots(9.0, 6.0, each=200)).settle == "Settled for these dates."
    frame = shots(9.0, 3.0, each=60)
    frame = frame[(frame["player"] != "Ann") | (frame["session"].dt.date <= day(28))]
    assert judged(frame).settle.startswith("About 1 more session of 60 shots")


@pytest.mark.slow
@pytest.mark.parametrize("shots_a_session", [15, 40])
def test_looking_after_every_session_does_not_make_luck_real(shots_a_session):
    """Scatter that stands still, twelve sessions, default windows after each from the fourth."""
    rng = np.random.default_rng(1)
    seasons, alarms = 400, 0
    df = shots_a_session - 1.0
    for _ in range(seasons):
        true = 6.5 * np.exp(0.25 * rng.standard_normal())
        squares = (true**2 + 1.0) * rng.chisquare(df, 12)
        surest = 0.5
        for look in range(4, 13):
            third = min(look // 2, max(2, round(look / 3)))
            sides = squares[:third].sum(), squares[look - third : look].sum()
            summary = SimpleNamespace(
                reading_sd=np.ones(1),
                scatter=np.array([sides]),
                scatter_df=np.full((1, 2), third * df),
            )
            smaller = consistency._chances(
                consistency._posterior(summary, "strike_up_mm").sum(axis=0)
            )[0]
            surest = max(surest, smaller, 1 - smaller)
        alarms += surest >= consistency.SURE_OF_SCATTER
    assert upper_limit(alarms, seasons) <= 0.05


def test_the_first_and_the_last_day_of_a_window_belong_to_it():
    frame = shots(9.0, 9.0)
    frame["session"] += pd.Timedelta(hours=15)  # the afternoon of the last day too
    found = judge_consistency(
        frame, "Ann", TRAIT, Window(day(0), day(21)), Window(day(28), day(49))
    )
    assert (found.before.sessions, found.after.sessions) == (4, 4)


def test_refusals_name_dates_and_reason():
    frame = shots(9.0, 9.0)
    with pytest.raises(BadRequest, match="share no day"):
        judge_consistency(frame, "Ann", TRAIT, AFTER, BEFORE)
    with pytest.raises(BadRequest, match="share no day"):
        judge_consistency(frame, "Ann", TRAIT, BEFORE, Window(BEFORE.end, AFTER.end))
    with pytest.raises(NotEnoughData, match="no strike across the face readings"):
        judge_consistency(frame, "Ann", TRAIT, BEFORE, Window(day(300), day(310)))
    single = frame.groupby(["player", "session"], as_index=False).first()
    with pytest.raises(NotEnoughData, match="at least two shots"):
        judge_consistency(single, "Ann", TRAIT, BEFORE, AFTER)


def test_a_whole_squad_is_judged_at_once_as_each_player_alone():
    frame = shots(6.0, 12.0)
    found = looser_scatter(frame, TRAIT, dict.fromkeys(("Ann", "B0", "B1"), (BEFORE, AFTER)))
    ann = next(v for v in found if v.player == "Ann")
    alone = judged(frame)
    assert ann.ratio.median == pytest.approx(alone.ratio.median, rel=0.02)
    assert (ann.verdict, ann.direction) == (alone.verdict, "looser")
    assert {v.player for v in found if v.direction == "looser"} == {"Ann"}


def test_who_scatters_less_or_was_not_read_is_not_looked_at_for_growing_scatter():
    frame = shots(12.0, 6.0, others=0)
    assert looser_scatter(frame, TRAIT, {"Ann": (BEFORE, AFTER)}) == ()
    assert looser_scatter(frame, "attack_deg", {"Ann": (BEFORE, AFTER)}) == ()
    assert looser_scatter(frame, TRAIT, {"Zed": (BEFORE, AFTER)}) == ()
