"""What is said of a fit's time: how long the next takes, by the last, and what one does now."""

from datetime import datetime

from tracker.store.rows import FitSummary

SLOW_START_S = 10.0
"""What a fit takes besides its sessions: loading the sampler and compiled code."""


def expected_seconds(last: FitSummary | None, sessions: int) -> float | None:
    """Return how long a fit of some sessions will take, by the last one; None before any.

    Sampling takes time in proportion to the sessions; the start takes the same.
    """
    if last is None or last.sessions <= 0 or last.seconds <= 0:
        return None
    start = min(SLOW_START_S, last.seconds)
    return start + (last.seconds - start) * sessions / last.sessions


def before_words(expected: float | None) -> str:
    """Return how long the next fit will take, in words."""
    if expected is None:
        return "How long a fit takes here is known once one has been made; it runs beside the page."
    return f"A fit takes about {duration_words(expected)} here, by the last one."


def under_way_words(
    phase: str, share: float | None, begun: datetime, now: datetime, expected: float | None
) -> str:
    """Return what a running fit is doing: its stage, how far that is, and what is left in all."""
    stage = phase or "starting"
    far = "" if share is None or share <= 0 else f", {share * 100:.0f} % of this stage"
    gone = max(0.0, (now - begun).total_seconds())
    text = f"Fitting: {stage}{far}; {duration_words(gone)} so far"
    if expected is None:
        return f"{text}."
    if gone >= expected:
        return f"{text}, longer than the last one."
    return f"{text}, about {duration_words(expected - gone)} to go."


def duration_words(seconds: float) -> str:
    """Return a time as a person says it: seconds in steps of five, from 90 s on minutes."""
    if seconds < 90:
        return f"{max(5, 5 * round(seconds / 5))} s"
    return f"{round(seconds / 60)} min"
