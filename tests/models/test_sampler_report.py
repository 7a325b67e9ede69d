import math

from models.sampler_report import SamplerReport


def test_a_clean_fit_has_no_problem():
    assert SamplerReport(0, 1.004, 900).problems == ()


def test_every_failed_limit_is_named_with_its_value():
    first, second, third = SamplerReport(3, 1.05, 120).problems
    assert first.startswith("3 divergent draws")
    assert "R-hat 1.050, limit 1.01" in second
    assert "120, need 400" in third


def test_limits_that_could_not_be_computed_count_as_failed():
    assert len(SamplerReport(0, math.nan, math.nan).problems) == 2


def test_two_reports_join_to_the_worse_one():
    joined = SamplerReport(1, 1.02, 900, "a").joined(SamplerReport(2, 1.001, 500, "b"))
    assert joined == SamplerReport(3, 1.02, 500, "b")
    assert (
        len(SamplerReport(0, 1.0, 900).joined(SamplerReport(0, math.nan, math.nan)).problems) == 2
    )
