"""What the board says in words: how a level moved, why somebody needs a look, what would help."""

from collections.abc import Sequence
from datetime import date

from models.traits import TRAITS
from tracker.decisions.board.changed import MOST_WRONG, Changed
from tracker.decisions.board.look import ENOUGH_SESSIONS, Look
from tracker.decisions.board.start_now import StartNow, Step
from tracker.interval import Interval, sure_between
from tracker.units import System, brief_text, range_text, trait_display, value_text
from tracker.words import chance_words, day_words, listed, start_of_sentence

NO_LEVER = "Nobody has a lever that is expected to pay enough to matter yet."


def move_words(row: StartNow, system: System) -> str:
    """Return how a level moved: its steps, then what creeps beside them.

    A step is never spread out over the months.
    """
    steps = [step_words(row.trait, step, system) for step in row.steps if step.settled]
    if row.creep is not None and creeps(row, system):
        size = brief_text(row.creep, trait_display(row.trait, system), signed=True)
        steps.append(f"creeps {size} a month{' beside it' if steps else ''}")
    if steps:
        return "; ".join(steps)
    open_steps = [step for step in row.steps if not step.settled]
    if open_steps:
        return f"{_name(open_steps[-1])}: which way is not settled"
    return "no step and no creep is settled"


def creeps(row: StartNow, system: System) -> bool:
    """Return whether a level surely creeps, and by more than rounds to nothing."""
    if row.creep is None or not one_sided(row.creep):
        return False
    how = trait_display(row.trait, system)
    return bool(round(row.creep.median * how.factor, how.decimals))


def step_words(trait: str, step: Step, system: System) -> str:
    """Return one sudden change with its size and its day, or where and how likely it is."""
    size = brief_text(step.size, trait_display(trait, system), signed=True)
    return f"{'' if step.sure else 'perhaps '}{size} at once: {_name(step)}"


def _name(step: Step) -> str:
    if step.kind == "logged":
        return f"{step.name}, {day_words(step.between[0])}"
    between = f"{day_words(step.between[0])} and {day_words(step.between[1])}"
    return f"not logged, between {between} ({chance_words(step.chance)})"


def look_reason(look: Look, system: System) -> str:
    """Return why a player needs a look, in a sentence without the player's name."""
    if look.kind == "drifting" and look.trait is not None and look.size is not None:
        label, how = TRAITS[look.trait].label, trait_display(look.trait, system)
        creep = value_text(look.size.median, how, signed=True)
        return (
            f"{start_of_sentence(label)} creeps {creep} a month away from where it should be "
            f"({range_text(look.size, how, signed=True)})."
        )
    if look.kind == "scatter" and look.trait is not None and look.size is not None:
        label = TRAITS[look.trait].label
        return (
            f"{start_of_sentence(label)} scatters {look.size.median:.2f} times as much as at first "
            f"({sure_between(f'{look.size.low90:.2f}', f'{look.size.high90:.2f} times')})."
        )
    if look.kind == "stuck" and look.stuck is not None:
        again = f" It is so in {look.more} more." if look.more else ""
        return (
            f"All {look.stuck.shots} readings of {TRAITS[look.stuck.trait].label} on "
            f"{day_words(look.stuck.session.date())} are alike: a stuck device.{again}"
        )
    if look.kind == "method" and look.trait is not None:
        what = "The strike" if TRAITS[look.trait].group == "strike" else "The delivery"
        before, now = look.methods
        return f"{what} was read by {before} at first and is read by {now} now."
    if look.kind == "few":
        alike: dict[tuple[int, int], list[str]] = {}
        for trait, read in look.few.items():
            alike.setdefault(read, []).append(TRAITS[trait].label)
        listed = "; ".join(_few_words(labels, *read) for read, labels in alike.items())
        return f"Too little is read for a verdict: {listed}."
    last = look.last or date.min
    return f"Last seen on {day_words(last)}, {look.days} days before the squad's latest session."


def look_remedy(look: Look) -> str:
    """Return what would help."""
    if look.kind == "drifting":
        return "Look at what changed in practice, then log a change and its date."
    if look.kind == "scatter":
        return "Look at one session on video, and at the device if another is in use."
    if look.kind == "stuck":
        return "Check the device. The fit leaves these readings out already."
    if look.kind == "few":
        most = max(ENOUGH_SESSIONS - sessions for sessions, _ in look.few.values())
        return (
            f"Measure {most} more session{'s' if most > 1 else ''}, every one of these each time."
        )
    if look.kind == "unseen":
        return "Measure a session before anything is decided: levels creep unseen."
    if look.linked:
        return "Nothing now: others were read by both, so the difference is allowed for."
    return "Read one session by both: until then no change can be told from the device's."


def changed_lead(found: Changed) -> str:
    """Return how many changes are flagged, out of how many looks, and how many may be luck."""
    if not found.looked_at:
        return (
            "Nobody can be judged yet: it takes two sessions with readings before and two after. "
            "Measure on."
        )
    looks = f"{found.looked_at} player and trait pairs were looked at"
    if not found.flags:
        return f"Nobody's change is sure enough yet; {looks}."
    number = len(found.flags)
    wrong = 100 * found.expected_wrong
    share = "fewer than 0.1" if wrong < 0.1 else f"about {wrong:.1f}"
    words = (
        f"{number} sure change{'s' if number > 1 else ''}; {looks}. Of 100 such flags {share} are "
        "expected to be luck"
    )
    if found.held_back:
        return (
            f"{words}; {found.held_back} more passed the limit and are held back, so that no more "
            f"than {100 * MOST_WRONG:.0f} are."
        )
    return f"{words}, and {100 * MOST_WRONG:.0f} is the most that is shown."


def one_sided(interval: Interval) -> bool:
    """Return whether the sign of a quantity is 90 % sure."""
    return interval.low90 > 0 or interval.high90 < 0


def tied_words(tied: Sequence[str], of: int) -> str:
    """Return with whom a player is tied, the many counted."""
    if not tied:
        return "nobody"
    if len(tied) == of - 1:
        return "everybody"
    return ", ".join(tied) if len(tied) <= 3 else f"{len(tied)} others"


def _few_words(labels: Sequence[str], sessions: int, readings: int) -> str:
    what = listed(labels)
    if not readings:
        return f"{what} not once"
    plural, many = "s" if sessions > 1 else "", "s" if readings > 1 else ""
    each = " each" if len(labels) > 1 else ""
    return f"{what} in {sessions} session{plural} ({readings} shot{many}{each})"
