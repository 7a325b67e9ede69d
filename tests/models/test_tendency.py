from dataclasses import replace

import numpy as np
import pymc as pm
import pytensor
import pytest
from scipy.stats import t as student

from models.squad_density import student5
from models.tendency import TendencyPriors, build_tendency_model
from models.traits import MAIN, MODELLED, TRAITS
from tracker.dataset import squad_data

pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def squad():
    import pandas as pd

    rng = np.random.default_rng(0)
    frame = pd.DataFrame(dict.fromkeys(MODELLED, np.nan), index=range(60))
    for name in MAIN:
        frame[name] = rng.normal(0, TRAITS[name].prior.shot_sd, 60)
    frame["player"] = np.repeat(["Ann", "Bo"], 30)
    frame["session"] = pd.Timestamp("2026-03-01") + pd.to_timedelta(np.arange(60) // 15 % 2, "D")
    frame = frame.assign(handed="right", strike_method="photo", delivery_method="radar")
    frame["missed_face"] = False
    return frame


def logp_by_scatter(data, scales):
    """Log posterior of the model at several values of every log shot SD, the rest held."""
    priors = TendencyPriors.from_table(tuple(TRAITS[t].prior for t in data.traits))
    model = build_tendency_model(data, priors)
    with pytensor.config.change_flags(mode="FAST_COMPILE"):
        logp = model.compile_logp()
    point = model.initial_point()
    return np.array(
        [logp({**point, "log_shot_sd": point["log_shot_sd"] + np.log(s)}) for s in scales]
    )


def test_missed_faces_are_counted_and_make_wide_scatter_likelier(squad):
    missing = squad.copy()
    missing.loc[:3, list(MAIN[:2])] = np.nan
    missing.loc[:3, "missed_face"] = True
    data = squad_data(missing, (), traits=MAIN).model
    np.testing.assert_array_equal(data.missed, [4, 0])
    scales = [0.8, 1.0, 1.3]
    censored = logp_by_scatter(data, scales)
    ignored = logp_by_scatter(replace(data, missed=np.zeros(2)), scales)
    told = censored - ignored
    assert told[0] < told[1] < told[2] < 0


def test_the_tail_of_missed_faces_is_students():
    points = np.array([-6.0, -1.3, 0.0, 0.4, 9.0])
    found = [student5(x) for x in points]
    np.testing.assert_allclose(found, student(5).cdf(points), atol=1e-12)


def test_every_sampled_quantity_is_named_with_its_dimensions(squad):
    data = squad_data(squad, (), traits=MAIN).model
    priors = TendencyPriors.from_table(tuple(TRAITS[t].prior for t in MAIN))
    model = build_tendency_model(data, priors)
    assert isinstance(model, pm.Model)
    dims = model.named_vars_to_dims
    for name in ("mu", "spread", "drift", "session_sd"):
        assert dims[name] == ("trait",)
    assert dims["log_shot_sd"] == ("player", "trait")
    assert tuple(model.coords["trait"]) == MAIN
