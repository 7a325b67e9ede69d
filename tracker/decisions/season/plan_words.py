"""How a season's plan is said: the answer, each block, what was left out, cautions."""

from typing import Final

from models.traits import TRAITS
from tracker.decisions.distance.gain_words import (
    amount_words,
    gain_brief,
    gain_display,
    lever_aim,
    meanwhile_words,
    sessions_words,
)
from tracker.decisions.season.plan import LeftOut, Planned, SeasonPlan
from tracker.decisions.season.programme import Block, Programme
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import cases_words, cautions_for, chance_words, with_chance

COACH_DECIDES: Final = (
    "A coach decides: this is a proposal from what each change is expected to gain, and it knows "
    "nothing of lessons, school, travel, soreness or weather."
)
# Common practice in coaching, no source.
VOLUME: Final = (
    "Mind the practice volume of juniors: no session beyond those planned, a day's rest after "
    "each, and fewer full-effort drives when in doubt."
)


def plan_headline(plan: SeasonPlan, system: System) -> str:
    """Return how many have a plan and what it is expected to gain."""
    if plan.problems:
        return "No plan from this fit."
    weeks = f"{plan.capacity.weeks} {'week' if plan.capacity.weeks == 1 else 'weeks'}"
    if plan.total is None:
        return f"Nobody has anything to practise first in the next {weeks}."
    total = amount_words(plan.total.median, plan.total.unit, system)
    return (
        f"{len(plan.planned)} of {plan.players} have a plan for {weeks} from "
        f"{day_words(plan)}, worth about {total} when added up."
    )


def day_words(plan: SeasonPlan) -> str:
    """Return the plan's first day."""
    return f"{plan.start.day} {plan.start:%B %Y}"


def plan_lead(plan: SeasonPlan, system: System) -> str:
    """Return how sure that is, what measuring costs, and where one more reading tells most."""
    if plan.problems:
        return "The draws did not pass their checks, so nothing is planned. Fit again."
    said = []
    if plan.total is not None:
        how = gain_display(plan.total, system)
        mean = plan.total.scaled(1 / len(plan.planned), plan.total.unit)
        said.append(
            f"Together {range_text(plan.total, how, signed=True)}, "
            f"{gain_brief(mean, system)} a player."
        )
        said.append(
            f"Measuring takes {sessions_words(plan.measured_sessions)} of players"
            + (f" ({plan.measured_shots} shots in retests)" if plan.measured_shots else "")
            + f" and {plan.measuring_slots} of the coach's."
        )
    said.append(reading_words(plan, system))
    return " ".join(part for part in said if part)


def reading_words(plan: SeasonPlan, system: System) -> str:
    """Return where one more measured session would change a decision most; empty if nowhere."""
    if plan.reading is None:
        return ""
    player, measure = plan.reading
    worth = amount_words(measure.worth_m, "m" if plan.total is None else plan.total.unit, system)
    return (
        f"One more measured session would change a decision most for {player}: "
        f"{TRAITS[measure.trait].label}, worth {worth} on average."
    )


def left_out_words(one: LeftOut, system: System) -> str:
    """Return why a player has no place, and what to read meanwhile."""
    if one.reading is None:
        return one.why
    return f"{one.why}; {meanwhile_words(one.reading, 'm', system)}"


def programme_aim(one: Programme) -> str:
    """Return what is practised for which trait."""
    return lever_aim(one.lever.lever)


def gain_words(one: Programme, system: System) -> str:
    """Return what the programme is worth, such as ``+6 yd (+1 to +12)``."""
    return gain_brief(one.lever.gain_m, system)


def sure_words(one: Programme) -> str:
    """Return how sure it is that this change is the one to make."""
    if one.lever.p_best is None:
        return ""
    return f"best {cases_words(one.lever.p_best)}" + ("" if one.clear else ", not clear")


def retest_words(one: Programme) -> str:
    """Return the size of the retest and its chance, or that there is none."""
    if one.retest is None:
        return "none that fits would show it; look at the next fit"
    return (
        f"{sessions_words(one.retest.sessions)} of {one.retest.shots_per_session} shots, "
        f"shows it {with_chance(one.retest.p_real)}"
    )


def reading_brief(one: Programme, system: System) -> str:
    """Return what one more measured session before choosing is worth; empty if nothing."""
    if one.reading is None:
        return ""
    worth = amount_words(one.reading.worth_m, one.lever.gain_m.unit, system)
    first = "first: " if one.measures_first else ""
    return f"{first}{TRAITS[one.reading.trait].label}, {worth}"


def block_title(one: Planned, block: Block) -> str:
    """Return what a block of a programme is, for a calendar or a table."""
    lever = one.programme.lever
    if block.kind == "practice":
        return f"{one.player}: practise {lever.name}"
    if block.kind == "retest":
        return f"{one.player}: retest {TRAITS[lever.trait or ''].label}"
    trait = one.programme.reading.trait if one.programme.reading else lever.trait or ""
    return f"{one.player}: measure {TRAITS[trait].label} first"


def block_text(one: Planned, block: Block, system: System) -> str:
    """Return what to do in a block, how sure its reason is, and what to take care of."""
    made = one.programme
    trait = made.lever.trait or ""
    lines = [f"{sessions_words(block.sessions)} in {_weeks(block.weeks)}."]
    if block.kind == "practice":
        lines.append(
            f"For {TRAITS[trait].label}: {gain_words(made, system)} expected, "
            "in brackets 90 % sure."
        )
        lines += cautions_for(trait)
        lines.append(VOLUME)
    elif made.retest is not None and block.kind == "retest":
        lines.append(
            f"{made.retest.shots_per_session} shots a session, warm-up left out, each read the "
            f"same way; {chance_words(made.retest.p_real)} that this shows "
            f"{_change(made, system)}."
        )
    else:
        lines.append("Read every shot the same way, then look at the levers again.")
    lines.append(COACH_DECIDES)
    return "\n".join(lines)


def plan_cautions(plan: SeasonPlan) -> tuple[str, ...]:
    """Return the safety sentences of everything in the plan, each once."""
    traits = (one.programme.lever.trait for one in plan.planned)
    own = (line for trait in traits if trait for line in cautions_for(trait))
    return tuple(dict.fromkeys((*own, VOLUME, COACH_DECIDES)))


def load_words(plan: SeasonPlan) -> str:
    """Return how full the weeks are."""
    if not plan.planned:
        return ""
    most, devices = plan.capacity.sessions_a_week, plan.capacity.devices
    full = sum(used >= most for used in plan.used)
    return (
        f"The coach gives {sum(plan.used)} of {most * plan.capacity.weeks} sessions; "
        f"{_weeks(full)} {'is' if full == 1 else 'are'} full. In one session one player practises, "
        f"or {'one is' if devices == 1 else f'up to {devices} are'} measured."
    )


def _change(made: Programme, system: System) -> str:
    if made.retest_change is None:
        return "the change"
    how = trait_display(made.lever.trait or "", system)
    return f"a change of {value_text(made.retest_change, how, signed=True)}"


def _weeks(number: int) -> str:
    return f"{number} {'week' if number == 1 else 'weeks'}"
