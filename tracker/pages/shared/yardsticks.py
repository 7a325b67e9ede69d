"""What counts, by which every page but the coach's takes what was chosen there."""

from tracker.decisions.distance.yardstick import TOWARD, YARDSTICKS, Yardstick
from tracker.pages.shared import address


def kept_yardstick() -> Yardstick:
    """Return what counts: as it was chosen on the coach's page, or toward the target."""
    name = address.kept("yardstick")
    return Yardstick(name) if name in YARDSTICKS else TOWARD
