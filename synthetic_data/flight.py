"""Where a struck ball lands and stops: air, flight and run.

Flight: drag and lift in the form of Smits & Smith 1994 (Science and Golf II),
    CD = k_drag (c1 + c2 S + c22 S^2 + c3 sin(pi q)), q = clip((A1 - Re) / A2, -1/2, 1/2)
    CL = k_lift l1 Sc^p, Sc = S / (1 + (S/Smax)^6)^(1/6)
with S = spin x radius / speed; fourth-order Runge-Kutta, a coarse fixed step. Run: the bounce of
Penner 2002 (Can. J. Phys. 80:931), airless hops, then rolling friction. Axes as in ``impact``.
"""

from dataclasses import dataclass

import numpy as np

from synthetic_data.arrays import Floats
from synthetic_data.impact import BALL_MASS_KG, BALL_RADIUS_M, Launch

GRAVITY = 9.80665
STEP_S = 0.1
LONGEST_FLIGHT_S = 15.0
BLOCK = 1500
"""Shots integrated together: few enough to stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class FlightParameters:
    """The planted ball and turf."""

    k_drag: float = 1.03
    k_lift: float = 0.95
    c1: float = 0.235
    c2: float = 0.249
    c22: float = 0.69
    c3: float = 0.030
    a1: float = 9e4
    a2: float = 2e5
    l1: float = 0.530
    p: float = 0.428
    s_max: float = 0.35
    spin_decay: float = 2e-5
    turf_tilt_deg: float = 15.4
    turf_slide: float = 0.40
    turf_roll: float = 0.35


@dataclass(frozen=True, slots=True)
class FirstTouch:
    """First touch of the turf: all arrays (shot, ...) in SI."""

    position_m: Floats
    velocity_mps: Floats
    spin_radps: Floats


def air_density(temperature_c: Floats, altitude_m: Floats, humidity: float = 0.5) -> Floats:
    """Return kg/m3 of moist air: ideal gases, ISO 2533 pressure, Magnus vapour pressure."""
    kelvin = temperature_c + 273.15
    pressure = 101325.0 * (1 - 2.25577e-5 * altitude_m) ** 5.25588
    vapour = humidity * 610.94 * np.exp(17.625 * temperature_c / (temperature_c + 243.04))
    density: Floats = (pressure - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)
    return density


def air_viscosity(temperature_c: Floats) -> Floats:
    """Return Pa s by Sutherland's law with the constants of ISO 2533."""
    kelvin = temperature_c + 273.15
    viscosity: Floats = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    return viscosity


def fly(
    launch: Launch, temperature_c: Floats, altitude_m: Floats, flight: FlightParameters
) -> FirstTouch:
    """Return the landing of every launch in still air over level ground."""
    density, viscosity = air_density(temperature_c, altitude_m), air_viscosity(temperature_c)
    blocks = [
        _fly_block(
            launch.velocity_mps[i : i + BLOCK],
            launch.spin_radps[i : i + BLOCK],
            density[i : i + BLOCK],
            viscosity[i : i + BLOCK],
            flight,
        )
        for i in range(0, len(density), BLOCK)
    ]
    return FirstTouch(
        np.concatenate([b.position_m for b in blocks]),
        np.concatenate([b.velocity_mps for b in blocks]),
        np.concatenate([b.spin_radps for b in blocks]),
    )


def _fly_block(
    velocity: Floats, spin: Floats, density: Floats, viscosity: Floats, flight: FlightParameters
) -> FirstTouch:
    rate = np.linalg.norm(spin, axis=1)
    axis = (spin / np.maximum(rate, 1e-9)[:, None]).T
    force = density * np.pi * BALL_RADIUS_M**2 / (2 * BALL_MASS_KG)
    reynolds = density * 2 * BALL_RADIUS_M / viscosity

    def slope(y: Floats) -> Floats:
        v, w = y[3:6], y[6]
        speed = np.sqrt((v * v).sum(axis=0))
        s = w * BALL_RADIUS_M / speed
        q = np.clip((flight.a1 - reynolds * speed) / flight.a2, -0.5, 0.5)
        drag = flight.k_drag * (
            flight.c1 + flight.c2 * s + flight.c22 * s * s + flight.c3 * np.sin(np.pi * q)
        )
        capped = s / (1 + (s / flight.s_max) ** 6) ** (1 / 6)
        lift = flight.k_lift * flight.l1 * capped**flight.p
        across = np.stack(
            [
                axis[1] * v[2] - axis[2] * v[1],
                axis[2] * v[0] - axis[0] * v[2],
                axis[0] * v[1] - axis[1] * v[0],
            ]
        )
        # A spin axis with a part along the flight lifts less by just that part.
        out = np.empty_like(y)
        out[:3] = v
        out[3:6] = force * speed * (lift * across - drag * v)
        out[4] -= GRAVITY
        out[6] = -flight.spin_decay * w * speed / BALL_RADIUS_M
        return out

    state = np.concatenate([np.zeros_like(velocity), velocity, rate[:, None]], axis=1).T
    landed = np.empty_like(state)
    flying = np.ones(len(rate), dtype=bool)
    for _ in range(round(LONGEST_FLIGHT_S / STEP_S)):
        a = slope(state)
        b = slope(state + STEP_S / 2 * a)
        c = slope(state + STEP_S / 2 * b)
        d = slope(state + STEP_S * c)
        following = state + STEP_S / 6 * (a + 2 * b + 2 * c + d)
        touch = flying & (following[1] <= 0)
        if touch.any():
            landed[:, touch] = _at_ground(state[:, touch], a[:, touch], following[:, touch])
            flying &= ~touch
            if not flying.any():
                break
        state = following
    if flying.any():
        raise ValueError(f"{int(flying.sum())} balls still fly after {LONGEST_FLIGHT_S} s")
    return FirstTouch(landed[:3].T, landed[3:6].T, (axis * landed[6]).T)


def _at_ground(before: Floats, slope_before: Floats, after: Floats) -> Floats:
    """Return the state where height is zero: height is taken as a parabola within the step."""
    rise, drop = slope_before[1] * STEP_S, after[1]
    bend = drop - before[1] - rise
    # before + rise x + bend x^2 = 0 on (0, 1]; bend < 0 in every descent and short hop
    root = (-rise - np.sqrt(np.maximum(rise**2 - 4 * bend * before[1], 0.0))) / (2 * bend)
    x = np.clip(root, 0.0, 1.0)
    here: Floats = before + x * (after - before)
    here[1] = 0.0
    return here


def run_out(landing: FirstTouch, flight: FlightParameters) -> Floats:
    """Return metres from first touch to rest along the ball's heading, shape (shot,)."""
    v = landing.velocity_mps
    ahead = np.hypot(v[:, 0], v[:, 2])
    down = -v[:, 1]
    heading = v[:, [0, 2]] / np.maximum(ahead, 1e-9)[:, None]
    # backspin about the level axis square to the heading: + throws the ball back
    backspin = landing.spin_radps[:, 2] * heading[:, 0] - landing.spin_radps[:, 0] * heading[:, 1]
    travelled = np.zeros_like(ahead)
    for _ in range(12):
        ahead, up, backspin = _bounce(ahead, down, backspin, flight)
        hops = up > 0.3
        travelled += np.where(hops, ahead * 2 * up / GRAVITY, 0.0)
        down = np.where(hops, up, 0.0)
        if not hops.any():
            break
    rolling = np.sign(ahead) * ahead**2 / (2 * flight.turf_roll * GRAVITY) * 5 / 7
    run: Floats = np.maximum(travelled + rolling, -8.0)
    return run


def _bounce(
    ahead: Floats, down: Floats, backspin: Floats, flight: FlightParameters
) -> tuple[Floats, Floats, Floats]:
    speed = np.hypot(ahead, down)
    steep = np.degrees(np.arctan2(down, np.abs(ahead)))
    tilt = np.radians(flight.turf_tilt_deg * (speed / 18.6) * (steep / 44.4))
    into = ahead * np.sin(tilt) + down * np.cos(tilt)
    along = ahead * np.cos(tilt) - down * np.sin(tilt)
    e = np.where(into <= 20, 0.510 - 0.0375 * into + 0.000903 * into**2, 0.120)
    slip = along + BALL_RADIUS_M * backspin
    needed = 2 / 7 * np.abs(slip) / np.maximum((1 + e) * into, 1e-9)
    slides = flight.turf_slide < needed
    rub = np.sign(slip) * flight.turf_slide * (1 + e) * into
    along_after = np.where(slides, along - rub, 5 / 7 * along - 2 / 7 * BALL_RADIUS_M * backspin)
    spin_after = np.where(
        slides, backspin - 2.5 * rub / BALL_RADIUS_M, -along_after / BALL_RADIUS_M
    )
    out = e * into
    ahead_after = along_after * np.cos(tilt) - out * np.sin(tilt)
    up_after = along_after * np.sin(tilt) + out * np.cos(tilt)
    return ahead_after, up_after, spin_after
