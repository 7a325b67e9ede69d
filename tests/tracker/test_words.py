import pytest

from models.traits import MODELLED
from tracker.words import (
    CAUTIONS,
    VERDICT_WORDS,
    cautions_for,
    chance_words,
    fault_words,
)


def test_every_verdict_reads_as_the_design_says():
    assert dict(VERDICT_WORDS) == {
        "real-worthwhile": "Yes, this is real",
        "real-size-unclear": "Real, but how big is not settled",
        "no-worthwhile-change": "No change that matters",
        "leaning": "Leaning, keep going",
        "cannot-tell": "Too early to say",
    }


@pytest.mark.parametrize(
    ("trait", "now", "target", "words"),
    [
        ("strike_up_mm", -4.0, 5.0, "strike too low"),
        ("strike_up_mm", 12.0, 5.0, "strike too high"),
        ("strike_toe_mm", -9.0, 4.0, "strike toward the heel"),
        ("strike_toe_mm", 14.0, 4.0, "strike too far toward the toe"),
        ("attack_deg", -4.0, 3.0, "hitting down too much"),
        ("attack_deg", 1.0, 4.0, "not hitting up enough"),
        ("attack_deg", 6.0, 4.0, "hitting up too much"),
        ("loft_deg", 18.0, 13.0, "too much delivered loft"),
        ("path_deg", -6.0, 0.0, "swinging too far out-to-in"),
        ("face_deg", 5.0, 0.0, "face too open"),
        ("face_deg", 1.0, 1.0, "on target"),
    ],
)
def test_a_fault_is_named_by_the_side_it_lies_on(trait, now, target, words):
    assert fault_words(trait, now, target) == words


def test_inside_the_window_of_equally_good_levels_nothing_is_wrong():
    assert fault_words("path_deg", -1.2, -1.4, (-2.0, -0.8)) == "about as good as it gets"
    assert fault_words("path_deg", -0.7, -1.4, (-2.0, -0.8)) == "swinging too far in-to-out"


@pytest.mark.parametrize("trait", MODELLED)
def test_the_two_sides_of_a_target_have_different_words(trait):
    assert fault_words(trait, 1.0, 2.0) != fault_words(trait, 3.0, 2.0)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "nearly impossible"),
        (0.03, "about 1 in 20"),
        (0.06, "about 1 in 10"),
        (0.5, "about 5 in 10"),
        (0.78, "about 8 in 10"),
        (0.94, "about 9 in 10"),
        (0.95, "about 19 in 20"),
        (0.99, "nearly certain"),
    ],
)
def test_a_chance_is_said_in_whole_counts(chance, words):
    assert chance_words(chance) == words


@pytest.mark.parametrize("chance", [-0.1, 1.1, float("nan")])
def test_what_is_no_chance_is_refused(chance):
    with pytest.raises(ValueError, match="from 0 to 1"):
        chance_words(chance)


def test_a_plan_to_hit_up_warns_about_the_back_and_a_plan_for_the_strike_does_not():
    assert any("back" in text for text in cautions_for("attack_deg"))
    assert not any("back" in text for text in cautions_for("strike_up_mm"))
    assert set(cautions_for("attack_deg")) <= set(CAUTIONS)
