"""The same flights by diffrax on JAX, one core; run by an interpreter that has both.

Reads launches and constants as JSON on standard input, prints carries and rates as JSON.
"""

import json
import math
import os
import sys
import time

os.environ["XLA_FLAGS"] = "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1"
os.environ["JAX_PLATFORMS"] = "cpu"
if hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})

import diffrax
import jax
import jax.numpy as jnp
import optimistix

jax.config.update("jax_enable_x64", True)


def main() -> None:
    given = json.load(sys.stdin)
    cd1, cd2, cd22, cd3, cl1, power = given["shape"]
    onset, width, cap, decay = given["constants"]
    density, viscosity = given["density"], given["viscosity"]
    mass, radius = 0.04593, 0.021335
    half = 0.5 * density * math.pi * radius**2 / mass
    start = jnp.array(given["start"])  # velocity, spin, axis

    def rates(_t, y, axis):
        v, spin = y[3:6], y[6]
        speed = jnp.sqrt(v @ v)
        s = radius * spin / speed
        q = jnp.clip((onset - density * speed * 2 * radius / viscosity) / width, -0.5, 0.5)
        drag = cd1 + cd2 * s + cd22 * s**2 + cd3 * jnp.sin(jnp.pi * q)
        lift = cl1 * (s / (1 + (s / cap) ** 6) ** (1 / 6)) ** power
        force = half * speed * (lift * jnp.cross(axis, v) - drag * v)
        force = force.at[2].add(-9.80665)
        return jnp.concatenate([v, force, jnp.array([-decay * spin * speed / radius])])

    def height(t, y, args, **_):  # diffrax calls it by these names
        return y[2]

    def carry(row, rtol):
        y0 = jnp.concatenate([jnp.array([0.0, 0.0, 1e-9]), row[:4]])
        event = diffrax.Event(height, optimistix.Newton(1e-8, 1e-8), direction=False)
        found = diffrax.diffeqsolve(
            diffrax.ODETerm(rates), diffrax.Tsit5(), 0.0, 30.0, 0.05, y0, args=row[4:],
            stepsize_controller=diffrax.PIDController(rtol=rtol, atol=rtol), event=event,
            max_steps=1024,
        )  # fmt: skip
        return jnp.hypot(found.ys[-1, 0], found.ys[-1, 1])

    answer = {"jax": jax.__version__, "diffrax": diffrax.__version__, "runs": []}
    for rtol in given["rtol"]:
        many = jax.jit(jax.vmap(lambda row, rtol=rtol: carry(row, rtol)))
        found = many(start).block_until_ready()
        best = math.inf
        for _ in range(3):
            began = time.process_time()
            many(start).block_until_ready()
            best = min(best, time.process_time() - began)
        answer["runs"].append(
            {"rtol": rtol, "per_s": len(start) / best, "carry_m": [float(c) for c in found]}
        )
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
