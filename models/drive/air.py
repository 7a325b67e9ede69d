"""Density and viscosity of the air a ball flies through, from weather and altitude.

Density: CIPM-2007 (Picard, Davis, Glaser & Fujii 2008, Metrologia 45:149). Pressure at an
altitude and viscosity (Sutherland's law): ISO 2533 standard atmosphere.
"""

import math
from dataclasses import dataclass
from typing import Final

from models.drive.errors import require_range

SEA_LEVEL_PRESSURE_PA: Final = 101_325.0
ZERO_CELSIUS_K: Final = 273.15

# ISO 2533: sea-level temperature, lapse rate, exponent g M / (R L), nominal Earth radius.
_ISO_TEMPERATURE_K: Final = 288.15
_ISO_LAPSE_K_PER_M: Final = 0.0065
_ISO_EXPONENT: Final = 5.255_88
_ISO_EARTH_RADIUS_M: Final = 6_356_766.0
# ISO 2533: Sutherland's constants.
_SUTHERLAND_BETA: Final = 1.458e-6
_SUTHERLAND_S_K: Final = 110.4

# CIPM-2007, coefficients checked against two public codes of the formula: gas constant (CODATA
# 2006, as the formula was published), molar masses with
# 400 ppm of carbon dioxide, saturation pressure, enhancement factor, compressibility.
_GAS_CONSTANT: Final = 8.314_472
_DRY_AIR_KG_PER_MOL: Final = 28.965_46e-3
_WATER_KG_PER_MOL: Final = 18.015_28e-3


@dataclass(frozen=True, slots=True)
class Air:
    """The air of one flight; ``density`` in kg/m3, ``viscosity`` in Pa s, humidity 0 to 1."""

    density: float
    viscosity: float
    temperature_c: float
    pressure_pa: float
    humidity: float


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Return the standard-atmosphere pressure at a geometric altitude (ISO 2533)."""
    geopotential_m = _ISO_EARTH_RADIUS_M * altitude_m / (_ISO_EARTH_RADIUS_M + altitude_m)
    ratio = 1.0 - _ISO_LAPSE_K_PER_M * geopotential_m / _ISO_TEMPERATURE_K
    return float(SEA_LEVEL_PRESSURE_PA * ratio**_ISO_EXPONENT)


def moist_air_density(temperature_c: float, pressure_pa: float, humidity: float) -> float:
    """Return the density of moist air in kg/m3 (CIPM-2007)."""
    t = temperature_c
    kelvin = t + ZERO_CELSIUS_K
    saturation_pa = math.exp(
        1.237_884_7e-5 * kelvin**2
        - 1.912_131_6e-2 * kelvin
        + 33.937_110_47
        - 6.343_164_5e3 / kelvin
    )
    enhancement = 1.000_62 + 3.14e-8 * pressure_pa + 5.6e-7 * t**2
    vapour = humidity * enhancement * saturation_pa / pressure_pa
    compressibility = (
        1.0
        - pressure_pa
        / kelvin
        * (
            1.581_23e-6
            - 2.9331e-8 * t
            + 1.1043e-10 * t**2
            + (5.707e-6 - 2.051e-8 * t) * vapour
            + (1.9898e-4 - 2.376e-6 * t) * vapour**2
        )
        + (pressure_pa / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    dry = pressure_pa * _DRY_AIR_KG_PER_MOL / (compressibility * _GAS_CONSTANT * kelvin)
    return dry * (1.0 - vapour * (1.0 - _WATER_KG_PER_MOL / _DRY_AIR_KG_PER_MOL))


def sutherland_viscosity(temperature_c: float) -> float:
    """Return the dynamic viscosity of air in Pa s (Sutherland's law, ISO 2533 constants)."""
    kelvin = temperature_c + ZERO_CELSIUS_K
    return float(_SUTHERLAND_BETA * kelvin**1.5 / (kelvin + _SUTHERLAND_S_K))


def air_at(
    temperature_c: float = 20.0,
    altitude_m: float = 0.0,
    humidity: float = 0.5,
    pressure_pa: float | None = None,
) -> Air:
    """Return the air at a temperature, altitude and relative humidity (0 to 1).

    A measured ``pressure_pa`` takes the place of the standard pressure at the altitude.
    Raises ``DriveInputError`` for weather in which nobody plays.
    """
    require_range("temperature_c", temperature_c, -30.0, 55.0, "degrees Celsius")
    require_range("altitude_m", altitude_m, -500.0, 6_000.0, "m")
    require_range("humidity", humidity, 0.0, 1.0, "(1 = saturated)")
    if pressure_pa is None:
        pressure_pa = pressure_at_altitude_pa(altitude_m)
    require_range("pressure_pa", pressure_pa, 40_000.0, 115_000.0, "Pa")
    return Air(
        density=moist_air_density(temperature_c, pressure_pa, humidity),
        viscosity=sutherland_viscosity(temperature_c),
        temperature_c=float(temperature_c),
        pressure_pa=float(pressure_pa),
        humidity=float(humidity),
    )
