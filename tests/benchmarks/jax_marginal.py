"""The same marginal model in JAX under NumPyro's NUTS; run as a script by an interpreter with both.

Written apart from ``models``: a scan over sessions, all players and traits abreast, its gradient
by JAX. Reads a squad and points from an ``.npz`` file, writes log densities, draws and seconds to
another one, and prints nothing but its versions.
"""

import os
import sys
import time

os.environ["JAX_PLATFORMS"] = "cpu"
os.environ["XLA_FLAGS"] = f"--xla_force_host_platform_device_count={sys.argv[3]}"

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.infer import MCMC, NUTS
from numpyro.infer.util import initialize_model

jax.config.update("jax_enable_x64", True)
CHAINS = int(sys.argv[3])


def squad_model(d):
    mu = numpyro.sample("mu", dist.Normal(d["mean_0"], d["mean_sd"]))
    spread = numpyro.sample("spread", dist.HalfNormal(d["between"]))
    drift = numpyro.sample("drift", dist.HalfNormal(d["drift"]))
    session_sd = numpyro.sample("session_sd", dist.HalfNormal(d["session"]))
    log_mean = numpyro.sample("log_shot_mean", dist.Normal(jnp.log(d["shot_sd"]), 0.5))
    log_spread = numpyro.sample("log_shot_spread", dist.LogNormal(jnp.log(d["log_spread"]), 0.5))
    players = d["gap"].shape[0]
    log_sd = numpyro.sample(
        "log_shot_sd", dist.Normal(jnp.tile(log_mean, (players, 1)), log_spread)
    )
    pairs = d["pair_z"].shape[1]
    pair_mean = numpyro.sample("pair_mean", dist.Normal(jnp.zeros(pairs), 0.4))
    pair_spread = numpyro.sample("pair_spread", dist.HalfNormal(0.25 * jnp.ones(pairs)))

    one_shot = jnp.exp(2 * log_sd) + d["reading_sd"] ** 2
    scatter = -0.5 * jnp.sum(d["scatter_df"] * jnp.log(one_shot) + d["scatter"] / one_shot)
    noise = one_shot[:, None] / d["count"] + session_sd**2

    def step(carry, session):
        m, v, total = carry
        y, r, gap = session
        v = v + drift**2 * gap[:, None]
        f = v + r
        e = y - m
        gain = v / f
        total = total - 0.5 * jnp.sum(jnp.log(2 * jnp.pi * f) + e**2 / f)
        return (m + gain * e, v * (1 - gain), total), None

    shape = log_sd.shape
    start = (jnp.broadcast_to(mu, shape), jnp.broadcast_to(spread**2, shape), 0.0)
    by_session = (d["mean"].swapaxes(0, 1), noise.swapaxes(0, 1), d["gap"].T)
    (_, _, filtered), _ = jax.lax.scan(step, start, by_session)
    total = pair_spread**2 + d["pair_variance"]
    pair = -0.5 * jnp.sum(jnp.log(total) + (d["pair_z"] - pair_mean) ** 2 / total)
    numpyro.factor("squad", scatter + filtered + pair)


def main() -> None:
    given = dict(np.load(sys.argv[1]))
    points = {name[6:]: given.pop(name) for name in list(given) if name.startswith("point_")}
    draws, tune, accept = (given.pop(name) for name in ("draws", "tune", "accept"))
    d = {name: jnp.asarray(v) for name, v in given.items()}
    found = {}

    density = jax.jit(
        jax.value_and_grad(
            lambda q: -initialize_model(jax.random.PRNGKey(0), squad_model, model_args=(d,))
            .potential_fn(q)
        )
    )  # fmt: skip
    count = len(points["mu"])
    rows = [{n: jnp.asarray(v[i]) for n, v in points.items()} for i in range(count)]
    values = [density(row) for row in rows]
    found["density"] = np.array([float(v) for v, _ in values])
    for name in points:
        found[f"gradient_{name}"] = np.stack([np.asarray(g[name]) for _, g in values])
    best = np.inf
    for _ in range(5):
        began = time.process_time()
        for _ in range(200):
            jax.block_until_ready(density(rows[0]))
        best = min(best, (time.process_time() - began) / 200)
    found["gradient_us"] = np.array(best * 1e6)

    kernel = NUTS(squad_model, target_accept_prob=float(accept))
    mcmc = MCMC(
        kernel, num_warmup=int(tune), num_samples=int(draws), num_chains=CHAINS,
        chain_method="parallel", progress_bar=False,
    )  # fmt: skip
    began = time.perf_counter()
    mcmc.run(jax.random.PRNGKey(1), d)  # compiles
    jax.block_until_ready(mcmc.get_samples())
    found["first_s"] = np.array(time.perf_counter() - began)
    began, clock = time.process_time(), time.perf_counter()
    mcmc.run(jax.random.PRNGKey(2), d)
    drawn = mcmc.get_samples(group_by_chain=True)
    jax.block_until_ready(drawn)
    found["seconds"] = np.array(time.process_time() - began)
    found["wall_s"] = np.array(time.perf_counter() - clock)
    found["divergences"] = np.asarray(mcmc.get_extra_fields()["diverging"]).sum()
    for name, v in drawn.items():
        found[f"draw_{name}"] = np.asarray(v)
    np.savez(sys.argv[2], **found)
    print(f"jax {jax.__version__}, numpyro {numpyro.__version__}")


if __name__ == "__main__":
    main()
