#!/usr/bin/env python3
"""An independent world: the simulated machine of docs/simulation.md written once more, vectorised in numpy, in double precision,
sharing nothing with the project's own. It reads a machine file, makes as many cycles as it is asked to, computes landing,
uncertainty and verdict in its own way, and prints what came of them; with --against it holds a result of
`zdatum simulate --json` against its own.

    python3 tests/world/independent.py --machine docs/demo/machine.toml --runs 1000000
    target/release/zdatum simulate --machine docs/demo/machine.toml --runs 1000000 --json > result.json
    python3 tests/world/independent.py --machine docs/demo/machine.toml --runs 1000000 --against result.json

Needs numpy and scipy. Exit 1 where the results differ by more than: sd 2 %, mean 6 standard errors, quantiles 0.03 sd.
"""
import argparse
import json
import sys
import time
import tomllib

import numpy as np
from scipy import stats

VON_NEUMANN = {5: 0.41608, 6: 0.36305, 7: 0.36920, 8: 0.40098, 9: 0.44135}  # lower 0.1 % points, exact


def tail_length(rows, band):
    """How many of the newest columns lie within the band, unbroken."""
    high = rows[:, -1].copy()
    low = high.copy()
    open_ = np.ones(len(rows), bool)
    count = np.ones(len(rows), int)
    for column in range(rows.shape[1] - 2, -1, -1):
        high = np.where(open_, np.maximum(high, rows[:, column]), high)
        low = np.where(open_, np.minimum(low, rows[:, column]), low)
        open_ &= high - low <= band + 1e-9
        count += open_
    return count


def touch(setup, rng, runs, true, sd, latency, speed):
    step = setup["travel"]["steps"][1] / setup["travel"]["steps"][0]
    noise = setup.get("noise", {})
    z = true + sd * rng.standard_normal(runs) - speed * (
        latency + noise.get("latency_jitter_s", 0.0) * rng.standard_normal(runs))
    wild = rng.random(runs) < noise.get("outlier_rate", 0.0)
    sign = np.where(rng.random(runs) < 0.5, -1.0, 1.0)
    z = z + wild * sign * noise.get("outlier_size", 0.0)
    return np.floor(z / step + 0.5) * step


def series(setup, rng, runs, true, sd, latency, squash=None):
    """Mean, s, n and verdict of one station, by the tail rule. `true` is a function of the touch's number."""
    plan = setup["touch"]
    first = 1 + plan["settle"]
    for k in range(first):
        speed = plan["first_speed"] if k == 0 else plan["fine_speed"]
        touch(setup, rng, runs, true(k), sd, latency, speed)
    columns = [touch(setup, rng, runs, true(first + k), sd, latency, plan["fine_speed"]) for k in range(plan["most"])]
    z = np.stack(columns, axis=1)
    n = np.zeros(runs, int)
    taken = np.zeros(runs, int)
    for k in range(plan["least"], plan["most"] + 1):
        todo = n == 0
        if not todo.any():
            break
        tail = tail_length(z[todo][:, :k], plan["band"])
        done = tail >= plan["least"]
        index = np.flatnonzero(todo)[done]
        n[index] = tail[done]
        taken[index] = k
    steady = n > 0
    mean = np.zeros(runs)
    s2 = np.zeros(runs)
    walk = np.zeros(runs)
    ratio = np.full(runs, np.inf)
    for count in np.unique(n[steady]):
        for k in np.unique(taken[n == count]):
            rows = (n == count) & (taken == k)
            counted = z[rows][:, k - count:k]
            mean[rows] = counted.mean(axis=1)
            s2[rows] = counted.var(axis=1, ddof=1)
            i = np.arange(count) - (count - 1) / 2
            b = (counted * i).sum(axis=1) / (i * i).sum()
            walk[rows] = np.abs(b) * np.sqrt((i * i).sum())
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio[rows] = np.where(s2[rows] > 0, (np.diff(counted, axis=1) ** 2).sum(axis=1)
                                       / (s2[rows] * (count - 1)), np.inf)
    return mean, s2, n, steady, walk, ratio


def simulate(setup, runs, seed):
    rng = np.random.default_rng(seed)
    noise = setup["noise"]
    step = setup["travel"]["steps"][1] / setup["travel"]["steps"][0]
    probe, plan = setup["probe"], setup["touch"]
    v, v0 = plan["fine_speed"], probe["trimmed_at_speed"]
    middle = lambda r: (r[0] + r[1]) / 2
    normal = lambda: rng.standard_normal(runs)

    t_true = probe["trip_depth"] + probe["trip_depth_u"] * normal()
    tau_d = setup["datum_switch"]["latency_s"] + setup["datum_switch"]["latency_u_s"] * normal()
    tau_p = setup["plate_switch"]["latency_s"] + setup["plate_switch"]["latency_u_s"] * normal()
    growth_true, growth_said, growth_u2 = np.zeros(runs), 0.0, 0.0
    for part in setup.get("growth", []):
        warming = part["print_c"] - part["touch_c"]
        g, ug = part["um_per_c"] / 1000, part["um_per_c_u"] / 1000
        growth_true += (g + ug * normal()) * warming
        growth_said += g * warming
        growth_u2 += (ug * warming) ** 2
    tip = middle(setup["datum_switch"]["tip_height"]) + step * (rng.random(runs) - 0.5)
    rise_lo, rise_hi = setup["plates"]["rise"]
    rise = middle([rise_lo, rise_hi]) + (rise_hi - rise_lo) / 5 * (rng.random(runs) - 0.5)
    drop = middle(probe["drop"]) + noise["reseat"] * normal()

    filament = noise.get("tip_filament", 0.0)
    squash = noise.get("tip_squash", 0.0)
    on_tip = lambda k: tip + filament * (1 - squash) ** k
    T = series(setup, rng, runs, on_tip, noise["tip_switch"], tau_d)
    S = series(setup, rng, runs, lambda k: tip + drop, noise["shoulder_switch"], tau_d)
    plate = tip + rise + drop + t_true + v0 * tau_p
    P = series(setup, rng, runs, lambda k: plate, noise["plate_switch"], tau_p)

    landing = P[0] - (S[0] - T[0]) - probe["trip_depth"] + (v - v0) * setup["plate_switch"]["latency_s"] + growth_said
    pooled = setup.get("pooled")
    floor = step * step / 12
    u2 = np.full(runs, probe["trip_depth_u"] ** 2 + (v - v0) ** 2 * setup["plate_switch"]["latency_u_s"] ** 2
                 + growth_u2 + setup.get("soak", {}).get("left", 0.0) ** 2 / 3)
    welch = np.zeros(runs)
    for name, station in zip(("tip", "shoulder", "plate"), (T, S, P)):
        n = np.maximum(station[2], 1)
        own = pooled[name]["s"] ** 2 / n if pooled else station[1] / n
        dof = pooled[name]["dof"] if pooled else np.maximum(n - 1, 1)
        own, finite = np.maximum(own, floor), own > floor
        u2 += own
        welch += np.where(finite, own ** 2 / dof, 0.0)
    with np.errstate(divide="ignore"):
        nu = np.floor(u2 ** 2 / welch + 2.0 ** -16)
    p = (1 + setup["accept"]["coverage"]) / 2
    whole = np.clip(nu, 1, 100000)
    table = np.concatenate([[np.nan], stats.t.ppf(p, np.arange(1, 2001))])
    k = np.where(whole <= 2000, table[np.minimum(whole, 2000).astype(int)], stats.norm.ppf(p) * (1 + 1.2 / whole))
    U = k * np.sqrt(u2)

    ok = T[3] & S[3] & P[3]
    for name, station in zip(("tip", "shoulder", "plate"), (T, S, P)):
        n = station[2]
        if pooled:
            far = station[4] * (n - 1) / np.sqrt(np.maximum(n * (n * n - 1) / 12, 1)) > 2 * step
            ok &= ~((n >= 3) & far & (station[4] > 3.6 * np.sqrt(pooled[name]["s"] ** 2 + floor)))
        else:
            point = np.array([VON_NEUMANN.get(int(c), 0.0) for c in range(65)])
            ok &= ~(station[5] < point[n])
    d, r = S[0] - T[0], landing - T[0] - growth_said
    inside = lambda x, limits: (x >= limits[0]) & (x <= limits[1])
    ok &= inside(d, probe["drop"]) & inside(r, setup["plates"]["rise"])
    window = setup["accept"]["landing"]
    ok &= (landing - U >= window[0]) & (landing + U <= window[1]) & (U <= setup["accept"]["expanded_u"])
    error = landing - (tip + rise + growth_true)
    return error[ok], U[ok], runs


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machine", required=True)
    parser.add_argument("--runs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=20260)
    parser.add_argument("--against")
    arguments = parser.parse_args()
    with open(arguments.machine, "rb") as file:
        setup = tomllib.load(file)
    if setup["noise"].get("drift", 0.0) != 0.0 or setup["touch"].get("centre", "mean") != "mean":
        sys.exit("this world knows neither drift nor other centres than the mean")
    begun = time.perf_counter()
    block, errors, expanded = 250_000, [], []
    for number, first in enumerate(range(0, arguments.runs, block)):
        error, U, _ = simulate(setup, min(block, arguments.runs - first), arguments.seed + number)
        errors.append(error)
        expanded.append(U)
    error, U = np.concatenate(errors), np.concatenate(expanded)
    seconds = time.perf_counter() - begun
    names = ["0.001", "0.025", "0.5", "0.975", "0.999"]
    mine = {"accepted": len(error), "mean": error.mean(), "sd": error.std(ddof=1),
            "coverage": (np.abs(error) <= U).mean(),
            "quantiles": dict(zip(names, np.quantile(error, [float(n) for n in names])))}
    print(f"{arguments.runs} cycles in {seconds:.2f} s: accepted {mine['accepted']}, mean {mine['mean']:+.7f}, "
          f"sd {mine['sd']:.7f}, coverage {mine['coverage']:.4f}")
    if not arguments.against:
        return
    with open(arguments.against) as file:
        theirs = json.load(file)
    sd = mine["sd"]
    standard_error = sd * np.sqrt(1 / mine["accepted"] + 1 / theirs["accepted"])
    checks = [("sd, ratio - 1", theirs["error"]["sd"] / sd - 1, 0.02),
              ("mean, standard errors", (theirs["error"]["mean"] - mine["mean"]) / standard_error, 6.0),
              ("coverage", theirs["coverage"] - mine["coverage"], 0.004),
              ("accepted, share", theirs["accepted"] / theirs["runs"] - mine["accepted"] / arguments.runs, 0.001)]
    for name in names:
        checks.append((f"quantile {name}, sd", (theirs["error"]["quantiles"][name] - mine["quantiles"][name]) / sd, 0.03))
    bad = 0
    for name, seen, limit in checks:
        good = abs(seen) <= limit
        bad += not good
        print(f"{'ok ' if good else 'BAD'} {name}: {seen:+.5f} (limit {limit})")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
