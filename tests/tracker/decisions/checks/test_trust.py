"""Whether a fit can be trusted: in words first, each doubt with what it means for the advice."""

from dataclasses import replace

import pytest

from models.sampling.report import SamplerReport
from tests.fits import BROKEN, CLEAN, make_fit, noise
from tracker.decisions.checks.evidence import (
    Evidence,
    PublishedCheck,
    Requirement,
    evidence_sentence,
    published_sentence,
)
from tracker.decisions.checks.predictive import NEIGHBOURS, TAILS, PredictiveCheck
from tracker.decisions.checks.trust import (
    PART_COLUMNS,
    carry_miss,
    checks_sentence,
    fit_trust,
    learned_constants,
    part_row,
)

UP, ATTACK, PHYSICS = "strike_up_mm", "attack_deg", "physics"
ALIKE = PredictiveCheck(UP, NEIGHBOURS, 0.1, 0.1, (0.0, 0.2), 0.5)
ODD = replace(ALIKE, seen=0.9, p=0.001)
ALLOWED = replace(ALIKE, what=TAILS, seen=5.0, p=0.001)


def trust_of(reports, checks=()):
    return fit_trust(make_fit({"Ann": {}}, reports=reports), checks)


def test_a_fit_without_a_doubt_says_so_in_its_first_sentence():
    found = trust_of({UP: CLEAN, ATTACK: CLEAN, PHYSICS: CLEAN}, (ALIKE, ALLOWED))
    assert found.headline == "Every part of this fit passed its checks."
    assert found.sound
    assert (found.doubts, found.care) == ((), ())


@pytest.mark.parametrize(
    ("part", "headline", "meaning"),
    [
        (UP, "Strike height is", "no verdict on it is given, nor anything in distance"),
        (PHYSICS, "Physics is", "nothing in distance is given; verdicts and ranks stand"),
    ],
)
def test_a_doubt_says_why_and_what_is_withheld(part, headline, meaning):
    found = trust_of({ATTACK: CLEAN, UP: CLEAN, PHYSICS: CLEAN} | {part: BROKEN})
    assert found.headline == f"{headline} in doubt; every other part passed its checks."
    (doubt,) = found.doubts
    assert f": {meaning} (7 divergent draws" in doubt
    assert not found.sound
    assert "the rest of the advice stands" in found.lead


def test_several_doubts_and_nothing_but_doubts():
    two = trust_of({UP: BROKEN, ATTACK: BROKEN, PHYSICS: CLEAN})
    assert two.headline == (
        "Strike height and attack angle are in doubt; every other part passed its checks."
    )
    assert len(two.doubts) == 2
    assert trust_of({UP: BROKEN}).headline == "No part of this fit passed its checks."
    whole = fit_trust(make_fit({"Ann": {}}, report=BROKEN), ())
    assert whole.headline == "No part of this fit passed its checks."
    assert "no verdict, no rank and nothing in distance is given" in whole.doubts[0]


def test_what_looks_odd_wants_care_but_withholds_nothing():
    found = trust_of({UP: CLEAN}, (ODD, ALLOWED))
    assert found.headline == "Every part of this fit was sampled well; some of it wants care."
    assert found.sound
    assert found.care == (
        "strike height: neighbouring days err alike, more than the model allows for: take chances "
        "as less sure",
    )


def test_every_part_has_its_row_and_a_trait_that_nobody_read_says_so():
    again = SamplerReport(0, 1.004, 812.0, "drift", 655.0, attempts=2)
    found = trust_of({UP: again, PHYSICS: BROKEN})
    rows = {row[0]: row[1:] for row in map(part_row, found.parts)}
    assert rows["Strike height"] == ("0", "1.004", "812", "655", "2", "passed")
    assert rows["Physics"][0] == "7"
    assert rows["Physics"][-1] == "in doubt"
    assert rows["Attack angle"] == ("", "", "", "", "", "not read: what is usual stands in")
    assert all(len(part_row(part)) == len(PART_COLUMNS) for part in found.parts)


def test_comparisons_are_counted_in_words():
    assert checks_sentence(()).startswith("Too few sessions")
    assert checks_sentence((ALIKE,)).startswith("All 1 comparisons")
    assert "1 look alike and 1 differ in a way that is allowed for" in checks_sentence(
        (ALLOWED, ALIKE)
    )
    assert checks_sentence((ODD, ALIKE)).startswith("Read with care: of 2 ")


def test_the_physics_tells_what_was_learned_and_how_far_carry_misses():
    # carry misses of 3 m and -4 m: sqrt((9 + 16) / 2) = 3.54
    rows = [
        ("carry_m", "Ann", 0, 200.0, 197.0, 190.0, 0.5),
        ("carry_m", "Bo", 0, 190.0, 194.0, 190.0, 0.5),
        ("launch_deg", "Bo", 0, 12.0, 11.0, 11.0, 0.5),
    ]
    physics = {
        "drag_factor": 0.98 + 0.01 * noise(400, seed=3),
        "restitution": 0.84 + 0.01 * noise(400, 2, seed=4) + [0.0, 0.02],
    }
    fit = make_fit({"Ann": {}, "Bo": {}}, physics=physics, ball_check=rows)
    carry = carry_miss(fit)
    assert carry is not None
    assert (carry.learned.median, carry.learned.unit) == (pytest.approx(3.5355, abs=1e-3), "m")
    constants = learned_constants(fit)
    assert constants["drag_factor"].median == pytest.approx(0.98, abs=1e-3)
    assert constants["restitution"].median == pytest.approx(0.85, abs=1e-3)  # mean of both
    bare = make_fit({"Ann": {}})
    assert carry_miss(bare) is None
    assert learned_constants(bare) == {}


def test_evidence_is_counted_in_words():
    kept = Evidence(2, 3, 6, (Requirement("a", "b", "c", True), Requirement("d", "e", "f", False)))
    assert evidence_sentence(kept) == (
        "In 6 invented seasons whose truth is known, the verdicts met 1 of 2 requirements."
    )
    assert kept.missed == (kept.requirements[1],)
    check = PublishedCheck("a", "b", "c", "1", "2", "0.5", False, "why")
    assert published_sentence((check, replace(check, met=True))) == (
        "Of 2 values that others have published, the program's own code finds 1 again within "
        "their tolerance."
    )
