"""Two inverters behind one meter, written apart from the bench: continuous states through an adaptive Runge-Kutta
integrator between the loops' samples, a soft ramp limit, and noise of its own. Writes one log a site, and what it was made of.

    python3 independent.py FOLDER
"""
import json
import math
import random
import sys

from scipy.integrate import solve_ivp

SECONDS = 600


def rest(t, steps):
    """What the site draws besides: a level that steps, with rounded edges, and a slow swell."""
    level = 500 + 200 * math.sin(t / 90)
    for at, height, width in steps:
        level += height / (1 + math.exp(-max(min((t - at) / width, 50), -50)))
    return level


def simulate(seed):
    chance = random.Random(seed)
    units = []
    for name in ("north", "south"):
        units.append(dict(
            name=name, gain=chance.uniform(0.1, 0.38), period=chance.choice([1, 1, 2, 3]), phase=chance.uniform(0.05, 0.9),
            dead=chance.uniform(0.3, 1.1), lag=chance.uniform(0.3, 1.1), ramp=chance.uniform(250, 1500), offset=chance.uniform(-20, 20)))
    steps, t = [], 8.0
    while t < SECONDS:
        steps.append((t, chance.uniform(-1800, 1800), chance.choice([0.02, 0.05, 1.5])))
        t += chance.uniform(8, 45)
    # Heights are turned where the sum would leave the ratings.
    total = 0
    for i, (at, height, width) in enumerate(steps):
        if abs(total + height) > 2500:
            height = -height
        total += height
        steps[i] = (at, height, width)
    orders = {u["name"]: [(-1e9, 0.0)] for u in units}  # (from when, power) as the output sees it, dead time included

    def wanted(u, t):
        for when, power in reversed(orders[u["name"]]):
            if when <= t:
                return power

    def slope(t, y):
        out = []
        for i, u in enumerate(units):
            ramp, power = y[2 * i], y[2 * i + 1]
            pull = (wanted(u, t) - ramp) / 0.01  # a limiter of finite stiffness
            out += [max(min(pull, u["ramp"]), -u["ramp"]), (ramp - power) / u["lag"]]
        return out

    events = set(range(SECONDS + 1))
    for u in units:
        n = 0
        while u["phase"] + n * u["period"] < SECONDS:
            events.add(round(u["phase"] + n * u["period"], 6))
            events.add(round(u["phase"] + n * u["period"] + u["dead"], 6))
            n += 1
    for at, _, _ in steps:
        events.add(round(at, 6))
    times = sorted(e for e in events if e <= SECONDS)
    y, log = [0.0] * 4, []
    for a, b in zip(times, times[1:] + [times[-1] + 1e-3]):
        grid = rest(a, steps) + y[1] + y[3]
        for u in units:
            k = (a - u["phase"]) / u["period"]
            if k > -1e-6 and abs(k - round(k)) < 1e-6:
                reading = grid + u["offset"] + chance.gauss(0, 1.5)
                last = orders[u["name"]][-1][1]
                orders[u["name"]].append((a + u["dead"] - 1e-9, max(min(last - u["gain"] * reading, 4000), -4000)))
        if abs(a - round(a)) < 1e-9:
            log.append((round(a), grid + chance.gauss(0, 1.5), y[1] + chance.gauss(0, 1), y[3] + chance.gauss(0, 1)))
        y = list(solve_ivp(slope, (a, b), y, method="RK45", rtol=1e-6, atol=1e-3, max_step=0.05).y[:, -1])
    return units, log


def main(folder):
    for seed in (1, 2, 3, 4):
        units, log = simulate(seed)
        with open(f"{folder}/independent-{seed}.csv", "w") as out:
            out.write("t [s],grid [W],north [W],south [W]\n")
            for t, grid, north, south in log:
                out.write(f"{t},{grid:.0f},{north:.0f},{south:.0f}\n")
        with open(f"{folder}/independent-{seed}.json", "w") as out:
            json.dump(units, out, indent=1)
            out.write("\n")


main(sys.argv[1])
