"""The plan of a season as a table file: a row a block of sessions, gains in the chosen units."""

from tracker.decisions.distance.gain_answer import Measure
from tracker.decisions.distance.gain_words import gain_display, lever_aim
from tracker.decisions.season.plan import SeasonPlan
from tracker.files.table_file import Value, heads, numbers, table_csv
from tracker.units import Display, System, display

COLUMNS = (
    "player", "practise", "trait", "block", "from", "to", "sessions", "shots_a_session",
    *heads("gain"), "unit", "p_best", "p_retest_shows", "left_out",
    "read_once_more", "worth_of_reading", "worth_unit",
)  # fmt: skip


def plan_csv(plan: SeasonPlan, system: System) -> bytes:
    """Return a plan as CSV that no spreadsheet takes for formulas; who has no place comes last."""
    metres = display("distance", system)
    rows: list[tuple[Value, ...]] = []
    for one in plan.planned:
        made = one.programme
        lever, retest, reading = made.lever, made.retest, made.reading
        how = gain_display(lever.gain_m, system)
        gain = lever.gain_m.scaled(how.factor, how.unit)
        for block in one.blocks:
            again = retest if block.kind == "retest" else None
            rows.append(
                (
                    one.player, lever_aim(lever.lever), lever.trait, block.kind,
                    block.start.isoformat(), block.end.isoformat(), block.sessions,
                    None if again is None else again.shots_per_session,
                    *numbers(gain), gain.unit, lever.p_best,
                    None if again is None else again.p_real, None,
                    *_reading(reading, metres),
                )
            )  # fmt: skip
    for left in plan.left_out:
        rows.append(
            (
                left.player, *(None,) * 13, left.why,
                *_reading(left.reading, metres),
            )
        )  # fmt: skip
    return table_csv(COLUMNS, rows)


def _reading(reading: Measure | None, how: Display) -> tuple[Value, ...]:
    if reading is None:
        return (None, None, None)
    return (reading.trait, reading.worth_m * how.factor, how.unit)
