"""Filters behind a regulator by general-purpose libraries: peaks by scipy's minimiser on complex arithmetic of numpy.

Writes filter.csv beside it, which the test filter.rs reads. Run: python3 filter.py (numpy and scipy; any recent version).
Nothing of quietrail is used.

ladder    series resistance and inductance, one or two capacitors with series resistance: highest gain and highest output
          impedance, from a dense sweep closed in on by a bounded minimiser.
chain     two or three stages in a row, one of them maybe with a resistor across its choke and one with a resistor and a
          capacitor beside it: by the whole matrix of node admittances, gain at three frequencies, impedance there, and the
          frequency above which 3 dB are gone for good. Each stage as ohms, henries, across (0: none), farads, esr, beside ohms,
          beside farads (0: none), behind the number of stages.
damper    the resistor in series with n times the capacitance that makes the highest output impedance of an undamped choke and
          capacitor lowest, found by two nested minimisers; and that impedance, both over sqrt(L/C).
"""

import csv
import os

import numpy as np
from scipy.optimize import brentq, minimize_scalar

rng = np.random.default_rng(31)
rows = []

def branches(s, shunts):
    return sum(1 / (r + 1 / (s * c)) for c, r in shunts)

def gain(f, r, l, shunts):
    s = 2j * np.pi * f
    return abs(1 / (1 + (r + s * l) * branches(s, shunts)))

def impedance(f, r, l, shunts):
    s = 2j * np.pi * f
    z = r + s * l
    return abs(z / (1 + z * branches(s, shunts)))

def highest(figure, middle):
    logs = np.linspace(np.log(middle) - 7, np.log(middle) + 7, 20001)
    best = logs[np.argmax([figure(np.exp(x)) for x in logs])]
    found = minimize_scalar(lambda x: -figure(np.exp(x)), bounds=(best - 1e-3, best + 1e-3), method="bounded", options={"xatol": 1e-13})
    return -found.fun, np.exp(found.x)

for _ in range(8):
    l, c = 10 ** rng.uniform(-5, -1), 10 ** rng.uniform(-6, -3)
    own = np.sqrt(l / c)
    r, esr = own * 10 ** rng.uniform(-1.5, -0.3), own * 10 ** rng.uniform(-2, -0.7)
    shunts = [(c, esr)]
    if rng.uniform() < 0.5:
        shunts.append((c * 10 ** rng.uniform(0, 1), own * 10 ** rng.uniform(-0.5, 0.5)))
    middle = 1 / (2 * np.pi * np.sqrt(l * sum(c for c, _ in shunts)))
    up, at = highest(lambda f: gain(f, r, l, shunts), middle)
    ohms, _ = highest(lambda f: impedance(f, r, l, shunts), middle)
    second = shunts[1] if len(shunts) > 1 else (0.0, 0.0)
    rows.append(["ladder", r, l, c, esr, second[0], second[1], 20 * np.log10(up), at, ohms])

def nodal(f, stages):
    """Gain to the last node and the impedance there, the source held at one volt: all admittances in one matrix."""
    s = 2j * np.pi * f
    n = len(stages)
    y = np.zeros((n + 1, n + 1), complex)
    for k, (r, l, across, c, esr, r_b, c_b) in enumerate(stages):
        series = 1 / (r + s * l) + (1 / across if across > 0 else 0)
        y[k, k] += series
        y[k + 1, k + 1] += series
        y[k, k + 1] -= series
        y[k + 1, k] -= series
        y[k + 1, k + 1] += 1 / (esr + 1 / (s * c))
        if c_b > 0:
            y[k + 1, k + 1] += 1 / (r_b + 1 / (s * c_b))
    inside = y[1:, 1:]
    volts = np.linalg.solve(inside, -y[1:, 0])
    ohms = np.linalg.solve(inside, np.eye(n)[:, -1])
    return abs(volts[-1]), abs(ohms[-1])

for count in [2, 2, 3, 2, 3, 3]:
    stages = []
    for _ in range(count):
        choke = rng.uniform() < 0.5
        l = 10 ** rng.uniform(-4, -2) if choke else 0.0
        c = 10 ** rng.uniform(-5, -3.3)
        own = np.sqrt(l / c) if choke else 0.0
        r = own * 10 ** rng.uniform(-1.2, 0) if choke else 10 ** rng.uniform(0, 2)
        across = own * 10 ** rng.uniform(0, 1) if choke and rng.uniform() < 0.5 else 0.0
        beside = rng.uniform() < 0.4
        stages.append((r, l, across, c, r * 10 ** rng.uniform(-3, -1.5), (own or r) if beside else 0.0, 4 * c if beside else 0.0))
    corners = [1 / (2 * np.pi * (np.sqrt(l * c) if l > 0 else r * c)) for r, l, _, c, *_ in stages]
    sweep = np.exp(np.linspace(np.log(min(corners)) - 7, np.log(max(corners)) + 5, 20001))
    over = [f for f in sweep if nodal(f, stages)[0] > np.sqrt(0.5)][-1]
    corner = brentq(lambda x: nodal(np.exp(x), stages)[0] - np.sqrt(0.5), np.log(over), np.log(over) + 2e-3, xtol=1e-13)
    row = ["chain", count, *np.ravel(stages), np.exp(corner)]
    for f in [0.5 * np.exp(corner), 3 * np.exp(corner), 30 * np.exp(corner)]:
        row += [f, *nodal(f, stages)]
    rows.append(row)

for n in [1.0, 2.0, 4.0, 8.0]:
    def worst(x):
        sweep = np.exp(np.linspace(np.log(0.02), np.log(1.0), 4001))
        values = impedance(sweep, 0.0, 1.0, [(1.0, 0.0), (n, np.exp(x))])
        best = np.log(sweep[np.argmax(values)])
        found = minimize_scalar(lambda y: -impedance(np.exp(y), 0.0, 1.0, [(1.0, 0.0), (n, np.exp(x))]),
                                bounds=(best - 2e-3, best + 2e-3), method="bounded", options={"xatol": 1e-12})
        return -found.fun
    found = minimize_scalar(worst, bounds=(-2.5, 1.5), method="bounded", options={"xatol": 1e-10})
    rows.append(["damper", n, np.exp(found.x), found.fun])

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "filter.csv"), "w", newline="") as file:
    csv.writer(file, lineterminator="\n").writerows([[row[0]] + [f"{value:.12g}" for value in row[1:]] for row in rows])
