"""Air against the standards themselves: CIPM-2007 and ISO 2533."""

import math

import pytest

from models.drive.air import (
    air_at,
    moist_air_density,
    pressure_at_altitude_pa,
    sutherland_viscosity,
)
from models.drive.errors import DriveInputError


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "density"),
    [
        # ISO 2533 sea level. CIPM-2007 counts 400 ppm of carbon dioxide and a real gas, hence
        # 1.2255 where the standard atmosphere has 1.2250.
        (15.0, 0.0, 1.225),
        # Picard et al. 2008, Metrologia 45:149 (value from memory).
        (20.0, 0.5, 1.1992),
    ],
)
def test_sea_level_density(temperature_c, humidity, density):
    assert moist_air_density(temperature_c, 101_325.0, humidity) == pytest.approx(density, rel=5e-4)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"),
    # ISO 2533 tables, geometric altitude (from memory; public tables of the standard atmosphere
    # give .8988 and .7950 bar at 1000 and 2000 m); 1609 m is one mile.
    [(0.0, 101_325.0), (1_000.0, 89_876.0), (1_609.0, 83_430.0), (2_000.0, 79_501.0)],
)
def test_pressure_falls_with_altitude_as_in_the_standard(altitude_m, pressure_pa):
    assert pressure_at_altitude_pa(altitude_m) == pytest.approx(pressure_pa, rel=2e-4)


def test_density_at_altitude_of_the_standard_atmosphere():
    # ISO 2533 at 2000 m: 2 degrees (275.154 K) and 1.00655 kg/m3 (from memory; public tables of
    # the standard atmosphere give .8217 of 1.2250 kg/m3).
    assert air_at(2.004, 2_000.0, 0.0).density == pytest.approx(1.00655, rel=6e-4)


@pytest.mark.parametrize(("temperature_c", "viscosity"), [(15.0, 1.7894e-5), (-49.898, 1.4577e-5)])
def test_viscosity_of_the_standard(temperature_c, viscosity):
    # ISO 2533 tables at sea level and at 10 km, 223.252 K (from memory; public tables give the
    # kinematic viscosities 1.461e-5 and 3.525e-5 m2/s).
    assert sutherland_viscosity(temperature_c) == pytest.approx(viscosity, rel=2e-4)


def test_moist_density_agrees_with_ideal_gases_and_another_vapour_formula():
    # Ideal gas law with the Magnus formula (611.2 exp(17.62 t / (243.12 + t)), WMO guide).
    t, humidity, pressure = 30.0, 0.8, 100_000.0
    vapour = humidity * 611.2 * math.exp(17.62 * t / (243.12 + t))
    ideal = (pressure - vapour) / (287.05 * (t + 273.15)) + vapour / (461.5 * (t + 273.15))
    assert moist_air_density(t, pressure, humidity) == pytest.approx(ideal, rel=2e-3)


def test_humid_air_is_lighter():
    assert air_at(30.0, 0.0, 1.0).density < air_at(30.0, 0.0, 0.0).density - 0.01


def test_measured_pressure_takes_the_place_of_altitude():
    assert air_at(20.0, 2_000.0, 0.5, pressure_pa=101_325.0).density == pytest.approx(
        air_at(20.0, 0.0, 0.5).density, rel=1e-12
    )


@pytest.mark.parametrize(
    ("weather", "name"),
    [
        ({"temperature_c": math.nan}, "temperature_c"),
        ({"temperature_c": 80.0}, "temperature_c"),
        ({"altitude_m": 12_000.0}, "altitude_m"),
        ({"humidity": 50.0}, "humidity"),
        ({"pressure_pa": 30.0}, "pressure_pa"),
    ],
)
def test_impossible_weather_is_refused_by_name(weather, name):
    with pytest.raises(DriveInputError) as refusal:
        air_at(**weather)
    assert refusal.value.name == name
    assert "wanted a number from" in str(refusal.value)
