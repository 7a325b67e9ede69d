"""Generic club heads of our own making, and the equipment rules they must stay inside.

Limits: R&A/USGA equipment rules (moment of inertia about the vertical axis through the centre
of gravity 5900 g cm2, tolerance 100; coefficient of restitution .822, tolerance .008).
"""

from dataclasses import dataclass
from typing import Final

from models.drive.errors import DriveInputError, require_range

MOI_LIMIT_KG_M2: Final = 6.0e-4
"""5900 g cm2 and the test tolerance of 100 (R&A/USGA equipment rules)."""

COR_LIMIT: Final = 0.830
"""0.822 and the test tolerance of .008 (R&A/USGA equipment rules)."""


@dataclass(frozen=True, slots=True)
class Head:
    """A driver head, its centre of gravity given from the face centre along the face's own axes.

    ``cor`` is the head's rating by the rules' test; a head below the limit loses that much
    restitution in the impact model too. Raises ``DriveInputError`` outside the equipment rules.
    """

    name: str = "standard"
    mass_kg: float = 0.200
    shaft_mass_kg: float = 0.010  # the part of the shaft that takes part in the impact
    moi_heel_toe_axis_kg_m2: float = 3.2e-4
    moi_vertical_axis_kg_m2: float = 4.8e-4
    moi_face_normal_axis_kg_m2: float = 2.8e-4
    cg_depth_m: float = 0.036
    cg_height_m: float = 0.0
    bulge_radius_m: float = 0.305
    roll_radius_m: float = 0.305
    face_loft_deg: float = 10.5
    cor: float = COR_LIMIT

    def __post_init__(self) -> None:
        require_range("head mass", self.mass_kg, 0.150, 0.250, "kg")
        require_range("effective shaft mass", self.shaft_mass_kg, 0.0, 0.050, "kg")
        for axis, moi in (
            ("heel-toe", self.moi_heel_toe_axis_kg_m2),
            ("vertical", self.moi_vertical_axis_kg_m2),
            ("face-normal", self.moi_face_normal_axis_kg_m2),
        ):
            if moi > MOI_LIMIT_KG_M2:
                raise DriveInputError(
                    f"moment of inertia about the {axis} axis",
                    f"{moi * 1e7:.0f} g cm2",
                    f"at most {MOI_LIMIT_KG_M2 * 1e7:.0f} g cm2 (equipment rules, with tolerance)",
                )
            require_range(f"moment of inertia about the {axis} axis", moi, 1e-4, 6e-4, "kg m2")
        if self.cor > COR_LIMIT:
            raise DriveInputError(
                "coefficient of restitution",
                f"{self.cor:.3f}",
                f"at most {COR_LIMIT:.3f} (equipment rules, with tolerance)",
            )
        require_range("coefficient of restitution", self.cor, 0.60, COR_LIMIT, "")
        require_range("centre-of-gravity depth", self.cg_depth_m, 0.010, 0.060, "m")
        require_range("centre-of-gravity height on the face", self.cg_height_m, -0.015, 0.015, "m")
        require_range("bulge radius", self.bulge_radius_m, 0.150, 1.000, "m")
        require_range("roll radius", self.roll_radius_m, 0.150, 1.000, "m")
        require_range("face loft", self.face_loft_deg, 5.0, 20.0, "degrees")


STANDARD: Final = Head()
FORGIVING: Final = Head(
    name="forgiving",
    moi_heel_toe_axis_kg_m2=4.0e-4,
    moi_vertical_axis_kg_m2=5.7e-4,
    moi_face_normal_axis_kg_m2=3.1e-4,
    cg_depth_m=0.043,
)
LOW_SPIN: Final = Head(
    name="low-spin",
    moi_heel_toe_axis_kg_m2=2.8e-4,
    moi_vertical_axis_kg_m2=4.4e-4,
    moi_face_normal_axis_kg_m2=2.6e-4,
    cg_depth_m=0.033,
    cg_height_m=-0.00175,
    face_loft_deg=9.5,
)
LIGHT: Final = Head(
    name="light",
    mass_kg=0.186,
    moi_heel_toe_axis_kg_m2=2.9e-4,
    moi_vertical_axis_kg_m2=4.4e-4,
    moi_face_normal_axis_kg_m2=2.6e-4,
    face_loft_deg=12.0,
)

HEADS: Final = {head.name: head for head in (STANDARD, FORGIVING, LOW_SPIN, LIGHT)}
"""The presets by name; their figures are round ones of our own, not any product's."""


def head_named(name: str) -> Head:
    """Return a preset; raises ``DriveInputError`` that lists the names there are."""
    try:
        return HEADS[name]
    except KeyError:
        raise DriveInputError("head", repr(name), "one of " + ", ".join(HEADS)) from None
