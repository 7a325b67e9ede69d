"""The commands that ask the physics alone: drive, flight; its compiled code loads when they run."""

from typing import TYPE_CHECKING, Annotated

import typer

from models.drive.ball import BALLS
from models.drive.heads import HEADS, head_named
from models.drive.turf import TURFS
from tracker.cli.common import (
    JsonOption,
    UnitsOption,
    out,
    print_json,
    print_table,
    refusals,
    system_named,
)
from tracker.cli.unit_options import takes_units
from tracker.units import System, display, value_text

if TYPE_CHECKING:
    from models.drive.drive import Drive

ATTACK_HELP = "Attack angle, + upward."
TemperatureOption = Annotated[float, typer.Option("--temperature-c", help="Of the air.")]
AltitudeOption = Annotated[float, typer.Option("--altitude-m", help="Above the sea.")]
HumidityOption = Annotated[float, typer.Option("--humidity", help="From 0 to 1.")]
TailwindOption = Annotated[
    float, typer.Option("--tailwind-mps", help="Toward the target; a headwind is negative.")
]
CrosswindOption = Annotated[
    float, typer.Option("--crosswind-mps", help="+ toward the open-face side.")
]
TurfOption = Annotated[str, typer.Option("--turf", help=f"One of {', '.join(TURFS)}.")]
BallOption = Annotated[str, typer.Option("--ball", help=f"One of {', '.join(BALLS)}.")]
HeadOption = Annotated[str, typer.Option("--head", help=f"One of {', '.join(HEADS)}.")]


@takes_units
def drive_command(
    club_speed_mps: Annotated[float, typer.Option("--club-speed-mps", help="Club speed.")],
    attack_deg: Annotated[float, typer.Option("--attack-deg", help=ATTACK_HELP)],
    loft_deg: Annotated[float, typer.Option("--loft-deg", help="Delivered loft.")],
    path_deg: Annotated[float, typer.Option("--path-deg", help="+ in-to-out.")] = 0.0,
    face_deg: Annotated[float, typer.Option("--face-deg", help="+ open.")] = 0.0,
    strike_up_mm: Annotated[float, typer.Option("--strike-up-mm", help="+ toward crown.")] = 0.0,
    strike_toe_mm: Annotated[float, typer.Option("--strike-toe-mm", help="+ toward toe.")] = 0.0,
    temperature_c: TemperatureOption = 20.0,
    altitude_m: AltitudeOption = 0.0,
    humidity: HumidityOption = 0.5,
    tailwind_mps: TailwindOption = 0.0,
    crosswind_mps: CrosswindOption = 0.0,
    turf: TurfOption = "average",
    ball: BallOption = "standard",
    head: HeadOption = "standard",
    units: UnitsOption = "yards",
    as_json: JsonOption = False,
) -> None:
    """Work out one drive from the club's delivery and the strike, by published physics."""
    from models.drive.drive import Conditions, Delivery, drive

    system = system_named(units)
    with refusals():
        delivery = Delivery(
            club_speed_mps=club_speed_mps,
            attack_deg=attack_deg,
            loft_deg=loft_deg,
            path_deg=path_deg,
            face_deg=face_deg,
            strike_up_mm=strike_up_mm,
            strike_toe_mm=strike_toe_mm,
        )
        conditions = Conditions(
            temperature_c,
            altitude_m,
            humidity,
            tailwind_mps=tailwind_mps,
            crosswind_mps=crosswind_mps,
            turf=turf,
            ball=ball,
        )
        _answer(drive(delivery, conditions, head_named(head)), system, as_json)


@takes_units
def flight_command(
    ball_speed_mps: Annotated[float, typer.Option("--ball-speed-mps", help="Ball speed.")],
    launch_deg: Annotated[float, typer.Option("--launch-deg")],
    spin_rpm: Annotated[float, typer.Option("--spin-rpm")],
    axis_deg: Annotated[float, typer.Option("--axis-deg", help="+ open-face side.")] = 0.0,
    side_deg: Annotated[float, typer.Option("--side-deg", help="+ open-face side.")] = 0.0,
    temperature_c: TemperatureOption = 20.0,
    altitude_m: AltitudeOption = 0.0,
    humidity: HumidityOption = 0.5,
    tailwind_mps: TailwindOption = 0.0,
    crosswind_mps: CrosswindOption = 0.0,
    turf: TurfOption = "average",
    ball: BallOption = "standard",
    units: UnitsOption = "yards",
    as_json: JsonOption = False,
) -> None:
    """Fly one ball from its launch to rest, by published physics."""
    from models.drive.drive import BallLaunch, Conditions, fly

    system = system_named(units)
    with refusals():
        launch = BallLaunch(
            ball_speed_mps=ball_speed_mps,
            launch_deg=launch_deg,
            side_deg=side_deg,
            spin_rpm=spin_rpm,
            axis_deg=axis_deg,
        )
        conditions = Conditions(
            temperature_c,
            altitude_m,
            humidity,
            tailwind_mps=tailwind_mps,
            crosswind_mps=crosswind_mps,
            turf=turf,
            ball=ball,
        )
        _answer(fly(launch, conditions), system, as_json)


def _answer(found: "Drive", system: System, as_json: bool) -> None:
    numbers = found.as_dict()
    if as_json:
        print_json(numbers)
        return
    print_table(
        ("quantity", "value"),
        (
            (name.rpartition("_")[0].replace("_", " "), _shown(name, value, system))
            for name, value in numbers.items()
        ),
    )
    out.print("One drive by published physics; the carry level is known to about 6 yd (90 % ±10).")


def _shown(name: str, value: float, system: System) -> str:
    suffix = name.rpartition("_")[2]
    if suffix == "mps":
        return value_text(value, display("speed", system))
    if suffix == "m":
        return value_text(value, display("distance", system), decimals=1)
    if suffix == "rpm":
        return value_text(value, display("spin", system))
    return f"{value:.1f}°" if suffix == "deg" else f"{value:.2f} {suffix}"
