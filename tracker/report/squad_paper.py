"""What a squad's paper says: each player's first lever, who stands where, which drill works."""

from collections.abc import Sequence
from datetime import date

from models.traits import TRAITS
from tracker.charts import export
from tracker.charts.rank import rank_chart
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain import common_lever
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import gain_brief, lever_aim, meanwhile_words
from tracker.decisions.squad import DrillRow, SquadRow, top_words
from tracker.decisions.verdict.verdict_words import directions
from tracker.posterior import Fit
from tracker.report.figures import rank_row
from tracker.report.paper import Drawing, Paper, Part, Table
from tracker.report.player_paper import HOW_TO_READ, IN_DOUBT, NOT_ADVICE
from tracker.report.setting import PAPER_FONT
from tracker.units import System, trait_display, value_text
from tracker.words import CAUTIONS, PRACTICE_CAUTIONS, chance_words, start_of_sentence

MOST_ROWS = 40
"""Players listed, so that the paper keeps to its pages; the rest is counted."""
PICTURED = 24
"""Players in the picture, for the same reason."""
RANKS_CAPTION = (
    "Each player's tendency, thin 90 % sure, thick 50 % sure; dashed: that player's own target. "
    "Right: the places each may hold, 90 % sure; where they overlap, the order is not settled."
)


def squad_paper(
    fit: Fit,
    squad: Sequence[Gains],
    trait: str,
    table: Sequence[SquadRow],
    drills: Sequence[DrillRow],
    *,
    printed: date,
    system: System,
) -> Paper:
    """Return a squad's paper; parts of the fit in doubt show their problems in place of numbers."""
    label = TRAITS[trait].label
    in_doubt, unranked = fit.problems_of(*DISTANCE_PARTS), fit.problems_of(trait)
    sound = [d for d in drills if not fit.problems_of(d.trait)]
    parts = []
    if not in_doubt:
        parts.append(Part("What each player does first", table=_levers(squad, system)))
    parts.append(Part("Which drill works", table=_drills(sound, system)))
    parts.append(Part("How to read this paper", (HOW_TO_READ,)))
    common = common_lever(squad) if not in_doubt else ""
    top = f"{start_of_sentence(label)}: {top_words(table, 'is clearly first')}"
    starts = [when for player in fit.players for when in fit.sessions(player.name)]
    return Paper(
        title="The squad",
        about=f"Driver. As of {max(starts):%d %B %Y}; printed {printed:%d %B %Y}.",
        problems=tuple(dict.fromkeys((*in_doubt, *unranked))),
        headline="No ranking." if unranked else top,
        lead=IN_DOUBT if in_doubt and unranked else common,
        drawings=() if unranked else (_ranks(fit, trait, table, system),),
        parts=tuple(parts),
        cautions=(*CAUTIONS, *PRACTICE_CAUTIONS, NOT_ADVICE),
        source=(
            f"From {len(starts)} sessions of {len(fit.players)} players, {min(starts):%d %b %Y} "
            f"to {max(starts):%d %b %Y}. Fit {fit.info.fit_id} of {fit.info.created_at:%d %b %Y}."
        ),
        most_pages=2,
    )


def _ranks(fit: Fit, trait: str, table: Sequence[SquadRow], system: System) -> Drawing:
    row = TRAITS[trait]
    rows = [rank_row(fit, trait, one, system) for one in table[:PICTURED]]
    first = "highest" if row.goal == "none" else "best"
    chart = rank_chart(rows, row.label, row.positive, first)
    places = (f"{r.player} place {r.rank90[0]} to {r.rank90[1]}" for r in table)
    caption = RANKS_CAPTION
    if len(table) > PICTURED:
        caption += f" The first {PICTURED} of {len(table)} players."
    return Drawing(export.svg(chart, font=PAPER_FONT), caption, "; ".join(places))


def _levers(squad: Sequence[Gains], system: System) -> Table:
    def rate(gains: Gains) -> float:
        return (gains.best.gain_per_session_m or 0.0) if gains.best is not None else 0.0

    ordered = sorted(squad, key=lambda gains: -rate(gains))
    rows = tuple(_lever(gains, system) for gains in ordered[:MOST_ROWS])
    rest = len(ordered) - len(rows)
    note = "In brackets: 90 % sure to be in this range."
    if rest > 0:
        note += f" {rest} more with less to gain."
    return Table(("Player", "First lever", "Promised", "Best choice"), rows, note)


def _lever(gains: Gains, system: System) -> tuple[str, ...]:
    best = gains.best
    if best is None:
        said = "nothing worth acting on yet" if gains.unsure else "nothing worth changing first"
        if gains.measure is not None:
            said += f"; {meanwhile_words(gains.measure, gains.yardstick.unit, system)}"
        return (gains.player, said, "", "")
    return (
        gains.player,
        lever_aim(best.lever),
        gain_brief(best.gain_m, system),
        chance_words(best.p_best or 0.0),
    )


def _drills(drills: Sequence[DrillRow], system: System) -> Table:
    rows = []
    for drill in drills[:12]:
        how = trait_display(drill.trait, system)
        effect = drill.effect
        low, high = (value_text(v, how, signed=True) for v in (effect.low90, effect.high90))
        up = drill.p_positive >= 0.5
        chance = chance_words(drill.p_positive if up else 1 - drill.p_positive)
        way = directions(drill.trait)[0 if up else 1]
        rows.append(
            (
                drill.name,
                TRAITS[drill.trait].label,
                f"{value_text(effect.median, how, signed=True)} ({low} to {high})",
                f"{chance} {way}",
                str(drill.players),
            )
        )
    columns = ("Drill or change", "Acts on", "Effect", "Direction", "Players")
    return Table(columns, tuple(rows), "" if rows else "No change is logged yet.")
