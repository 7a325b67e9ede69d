import math

from models.sampling.report import SamplerReport, joined


def test_a_clean_fit_has_no_problem():
    assert SamplerReport(0, 1.004, 900).problems == ()


def test_every_failed_limit_is_named_with_its_value():
    first, second, third, fourth = SamplerReport(3, 1.05, 120, min_tail_ess=90).problems
    assert first.startswith("3 divergent draws")
    assert "R-hat 1.050, limit 1.01" in second
    assert "120, need 400" in third
    assert "in the tails (90, need 400)" in fourth


def test_limits_that_could_not_be_computed_count_as_failed():
    unknown = SamplerReport(0, math.nan, math.nan, min_tail_ess=math.nan)
    assert len(unknown.problems) == 3
    assert unknown.as_json()["max_rhat"] is None


def test_reports_join_to_the_worst_in_every_respect():
    one = SamplerReport(1, 1.02, 900, "a", 450, 1)
    two = SamplerReport(2, 1.001, 500, "b", 700, 3)
    assert joined([one, two]) == joined([two, one]) == SamplerReport(3, 1.02, 500, "b", 450, 3)


def test_nan_is_worst_wherever_it_stands():
    clean, unknown = (SamplerReport(0, v, e, "", e) for v, e in ((1.0, 900.0), (math.nan,) * 2))
    for order in ([clean, unknown], [unknown, clean]):
        assert len(joined(order).problems) == 3


def test_no_report_has_no_problem():
    assert joined([]).problems == ()
