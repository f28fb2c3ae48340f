"""Filters behind a regulator by general-purpose libraries: peaks by scipy's minimiser on complex arithmetic of numpy.

Writes filter.csv beside it, which the test filter.rs reads. Run: python3 filter.py (numpy and scipy; any recent version).
Nothing of quietrail is used.

ladder    series resistance and inductance, one or two capacitors with series resistance: highest gain and highest output
          impedance, from a dense sweep closed in on by a bounded minimiser.
damper    the resistor in series with n times the capacitance that makes the highest output impedance of an undamped choke and
          capacitor lowest, found by two nested minimisers; and that impedance, both over sqrt(L/C).
"""

import csv
import os

import numpy as np
from scipy.optimize import minimize_scalar

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
