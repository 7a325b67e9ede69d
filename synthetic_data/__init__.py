"""An invented golf academy whose truth is known.

Fourteen players with tree names (three skill tiers, two left-handers) hit 12 to 24 drives a
session, about ten sessions each from March to August 2026. Days differ, levels drift slowly,
traits move together, swings are now and then wild, devices are biased, misread and fall silent,
some players change method mid-season, and a few shots miss the readable face. The coach logs
three drills: the tee-height ladder raises the strike for everyone given it, mirror swings do
nothing but are given after a poor day (so that they look good by regression to the mean), and
the forward ball position lifts attack for half and does nothing for the rest. The ball flies by
this package's own impact and flight, whose parameters differ from the tool's by known amounts.

Nothing here comes from the packages under test: a slip in one shows in the other.
"""

from synthetic_data.academy import Academy, make_academy
from synthetic_data.ball import AcademyPhysics, drive
from synthetic_data.spec import AcademySpec, PlannedDrill
from synthetic_data.truth import truth_record
from synthetic_data.writing import AcademyFiles, demo_paths, make_demo, write_academy

__all__ = [
    "Academy",
    "AcademyFiles",
    "AcademyPhysics",
    "AcademySpec",
    "PlannedDrill",
    "demo_paths",
    "drive",
    "make_academy",
    "make_demo",
    "truth_record",
    "write_academy",
]
