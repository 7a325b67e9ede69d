"""How what works is said: the answer, what would settle it, and each player's own result."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from models.traits import TRAITS
from tracker.decisions.distance.gain_words import sessions_words
from tracker.decisions.season.what_works import (
    WORKS,
    Answer,
    Finding,
    NewDrill,
    NotJudged,
    TraitWorks,
    WorkedRow,
)
from tracker.interval import Interval
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import cases_words, chance_words, start_of_sentence, with_chance

FINDING_WORDS: Mapping[Finding, str] = MappingProxyType(
    {
        "helps-enough": "Works, and by enough to matter",
        "helps": "Works; how much is open",
        "no-difference": "No difference that matters",
        "against": "Works the wrong way",
        "cannot-tell": "Can't tell yet",
    }
)
"""What is said of a change over the squad."""

ANSWER_WORDS: Mapping[Finding, str] = MappingProxyType(
    {
        "helps-enough": "helped, and by enough to matter",
        "helps": "helped; how much is open",
        "no-difference": "no difference that matters",
        "against": "moved the wrong way",
        "cannot-tell": "can't tell yet",
    }
)
"""What is said of a change in one player."""

APART = (
    "Each effect is what the change did by itself: ordinary drift, a player's place before it and "
    "changes that nobody logged are kept apart."
)
NONE_JUDGED = "No logged change can be judged from this fit."
NOTHING_TO_JUDGE = (
    "A change is judged in a trait with a better way, once a player who did it has readings of it "
    "and the fit of that trait is sound. Read more, then fit again."
)
NOTHING_LOGGED = (
    "Log a drill, equipment or set-up change on the Coach page under the player's plan, or load a "
    "file of them with drive-progress load FILE --changes; then fit again."
)


def works_headline(works: Sequence[TraitWorks], *, logged: bool) -> str:
    """Return which change works best for which trait, or that nobody can tell yet.

    ``logged`` says whether any change is, so that none judged is told from none there.
    """
    if not works:
        return NONE_JUDGED if logged else "No change is logged yet, so nothing can be said to work."
    named = [f"{row.name} works for {TRAITS[row.trait].label}" for row in best_rows(works)]
    if named:
        return f"{start_of_sentence('; '.join(named))}."
    if all(row.finding in ("no-difference", "against") for one in works for row in one.rows):
        return "Nothing logged so far works by enough to matter."
    return "Nobody can tell yet which change works."


def works_lead(
    works: Sequence[TraitWorks],
    system: System,
    *,
    logged: bool,
    left_out: Sequence[NotJudged] = (),
) -> str:
    """Return how sure the headline is, or what would settle it; ``logged`` as for the headline.

    ``left_out`` are the changes that could not be judged: where none could, it says why not.
    """
    if not works and logged and left_out:
        return " ".join(not_judged_words(one) for one in left_out)
    if not works:
        return NOTHING_TO_JUDGE if logged else NOTHING_LOGGED
    best = best_rows(works)
    if best:
        fresh = {one.trait: one.new_drill for one in works}
        return " ".join(_sure(row, fresh[row.trait], system) for row in best)
    rows = [row for one in works for row in one.rows]
    unsettled = [row for row in rows if row.finding == "cannot-tell"]
    if not unsettled:
        return " ".join(
            f"{FINDING_WORDS[row.finding]}: {row.name} for {TRAITS[row.trait].label}, "
            f"{effect_words(row.trait, row.effect, system)}."
            for row in rows
        )
    nearest = max(unsettled, key=lambda row: row.p_helps)
    return (
        f"Nearest is {nearest.name} for {TRAITS[nearest.trait].label}: it moves it by "
        f"{effect_words(nearest.trait, nearest.effect, system)}, and helps "
        f"{with_chance(nearest.p_helps)}. {settle_words(nearest)}"
    )


def not_judged_words(one: NotJudged) -> str:
    """Return why nothing is said of the changes of a trait, and what to do where that helps."""
    label = TRAITS[one.trait].label
    if one.reason == "none-logged":
        return f"No logged change acts on {label}."
    about = f"Not judged for {label}: {', '.join(one.names)}."
    if one.reason == "no-better-way":
        return (
            f"{about} More of it is neither better nor worse, so nothing can be said to work; "
            "whether a player's own change of it is real is on the Player page."
        )
    if one.reason == "in-doubt":
        return f"{about} This part of the fit did not pass its checks: fit again with more draws."
    return f"{about} Nobody has readings of it since: read more, then fit again."


def best_rows(works: Sequence[TraitWorks]) -> tuple[WorkedRow, ...]:
    """Return of each trait the change of most help a session among those that work, surest first.

    One that is surely too small to matter is not among them.
    """
    found = []
    for one in works:
        working = [row for row in one.rows if row.finding in ("helps-enough", "helps")]
        found += working[:1]
    return tuple(sorted(found, key=lambda row: -row.p_worthwhile))


def effect_words(trait: str, effect: Interval, system: System) -> str:
    """Return ``+5.2 mm (90 % sure between +3.4 and +6.9 mm)``."""
    how = trait_display(trait, system)
    size = value_text(effect.median, how, signed=True)
    return f"{size} ({range_text(effect, how, signed=True)})"


def share_words(share: Interval, players: int) -> str:
    """Return how many of those who did it, such as ``4 of 7 (3 to 6)``."""
    middle, low, high = (round(s * players) for s in (share.median, share.low90, share.high90))
    return f"{middle} of {players} ({low} to {high})"


def settle_words(row: WorkedRow) -> str:
    """Return what would settle whether a change helps; empty where that is settled."""
    if row.finding != "cannot-tell":
        return ""
    if row.more_players is None:
        return "Going on like this would not settle it: try another drill, or read more steadily."
    if row.more_players == 0:
        return "Which way it moves is settled, whether that is the right way is not."
    who = "player" if row.more_players == 1 else "players"
    return f"At least {row.more_players} more {who} would settle it."


def way_words(row: WorkedRow) -> str:
    """Return which way helps, and whether some of those who did it needed the other."""
    trait = TRAITS[row.trait]
    way = trait.positive if row.way > 0 else trait.negative
    if not row.other_way:
        return way
    return f"{way}; the other way for {row.other_way} of {row.players}"


def answer_words(answer: Answer) -> str:
    """Return what a change did to one player, with the chance that it helped enough."""
    said = ANSWER_WORDS[answer.finding]
    if answer.finding != "cannot-tell":
        return said
    return f"{said}: helped {with_chance(answer.p_helped)}"


def _sure(row: WorkedRow, fresh: NewDrill, system: System) -> str:
    how = trait_display(row.trait, system)
    moved = effect_words(row.trait, row.effect, system)
    said = (
        f"{start_of_sentence(row.name)} moves {TRAITS[row.trait].label} by {moved} "
        f"for {sessions_words(row.effort_sessions)} of practice; "
        f"{chance_words(row.p_worthwhile)} that this is beyond the "
        f"{value_text(row.worthwhile, how)} that matter."
    )
    if fresh.p_best > row.p_best:
        may = chance_words(fresh.p_best)
        return f"{said} A drill that nobody has tried may give more a session ({may})."
    return f"{said} A session of it is the best choice for the trait {cases_words(row.p_best)}."


def claim_rule() -> str:
    """Return from which chance on a change is said to work."""
    return (
        f"A change is said to work from {WORKS * 100:.0f} in 100 for the way that helps those who "
        "did it."
    )
