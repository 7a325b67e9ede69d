"""What a session of readings is worth, against the closed form for normal gains."""

import numpy as np
import pytest

from models.traits import DELIVERY
from tests.fits import make_fit, noise
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.next_reading import fitted_gains, reading_worth, session_means

N = 4000


def test_worth_of_a_reading_is_the_closed_form_of_two_normals():
    # gain ~ N(0, 4^2) against doing nothing; x tells of it with R^2 = .8, so what is expected after
    # x has SD 4 sqrt(.8) = 3.578 and E[max(., 0)] = 3.578 / sqrt(2 pi) = 1.427
    truth, error = noise(N, 2, seed=4).T
    gains = 4 * truth[:, None]
    assert reading_worth(gains, truth + 0.5 * error) == pytest.approx(1.427, abs=0.06)


def test_what_tells_nothing_is_worth_nothing_even_among_close_levers():
    z = noise(400, 5, seed=6)
    assert reading_worth(4 * z[:, :4], z[:, 4]) < 0.25
    assert reading_worth(4 * z[:, :4], np.zeros(400)) == 0.0


def test_what_only_the_reading_would_put_on_offer_counts():
    z = noise(N, 2, seed=7)
    offered = 1.0 + 0.1 * z[:, :1]
    more = 5.0 + 0.1 * z[:, 1:]
    assert reading_worth(offered, z[:, 0], more) == pytest.approx(4.0, abs=0.05)
    assert reading_worth(np.zeros((N, 0)), z[:, 0], more) == pytest.approx(5.0, abs=0.05)


def test_fitted_gains_keep_each_levers_mean():
    z = noise(N, 2, seed=9)
    gains = np.stack([3 + z[:, 0] ** 2, -1 + z[:, 0]], axis=1)
    fitted = fitted_gains(gains, z[:, 0])
    np.testing.assert_allclose(fitted.mean(axis=0), gains.mean(axis=0), atol=1e-9)
    np.testing.assert_allclose(fitted, gains, atol=0.05)  # a cubic holds both


def test_a_session_to_come_has_the_spread_of_days_and_of_its_shots():
    # level SD .5; day 2; shots 4 of SD 6 read to 3: (36 + 9) / 4; together .25 + 4 + 11.25 = 15.5
    fit = make_fit(
        {"Ana": {}}, samples=N, shots=4, shot_sd={"strike_up_mm": 6.0},
        session_sd={"strike_up_mm": 2.0}, reading_sd={"strike_up_mm": 3.0},
    )  # fmt: skip
    cloud = player_cloud(fit, "Ana", draws=N, shots=2)
    session = session_means(fit, "Ana", cloud.level, np.arange(N))["strike_up_mm"]
    assert session.var() == pytest.approx(15.5, rel=0.07)
    up = cloud.level[:, DELIVERY.index("strike_up_mm")]
    assert np.cov(session, up)[0, 1] == pytest.approx(0.25, abs=0.1)
