"""The transforms between the sampled vector and the parameters."""

import numpy as np
from scipy.integrate import quad
from scipy.stats import norm

from models.tendency.density import positive_part


def test_an_sd_near_zero_is_sampled_on_a_line_with_normal_tails():
    at = np.array([-20.0, -12.1, -12.0, -11.9, -3.0, 0.0, 2.0, 8.0])
    value, slope, pull = np.array([positive_part(v) for v in at]).T
    np.testing.assert_allclose(slope, norm.cdf(at), rtol=2e-4)
    np.testing.assert_allclose(pull, np.exp(norm.logpdf(at) - norm.logcdf(at)), rtol=2e-4)
    ends = np.where(at < 0, 4 - 1.2 * at, 12)
    whole = [
        quad(lambda z, v=v: (v + z) * norm.pdf(z), -v, end)[0]
        for v, end in zip(at, ends, strict=True)
    ]
    np.testing.assert_allclose(value, whole, rtol=2e-3)
