"""Noise of a regulator through filters behind it, by general-purpose libraries: node admittances of numpy, quad of scipy.

Writes behind.csv beside it, which the test filter.rs reads. Run: python3 behind.py (numpy and scipy; any recent version).
Nothing of quietrail is used.

The regulator is a voltage e behind its output resistance, since a data sheet's noise is that of the closed loop, with a flicker
corner in the density of e; a capacitor with series resistance stands at its output. One or two stages of a resistor or a choke with a capacitor follow.
Every resistance makes thermal noise at 25 C. Columns: density, corner, capacitor and series resistance at the output, number of
stages, of each stage ohms, henries, farads, esr; rms at the output and behind the last stage, 10 Hz to 100 kHz.
"""

import csv
import os

import numpy as np
from scipy.integrate import quad

rng = np.random.default_rng(47)
KT4 = 4 * 1.380649e-23 * 298.15
G, INSIDE = 1 / 0.02, 1e6
LOW, HIGH = 10.0, 100e3


def density_squares(f, e0, corner, c_out, esr_out, stages):
    """V^2/Hz at the output and behind the last stage."""
    s = 2j * np.pi * f
    n = len(stages) + 1
    y = np.zeros((n, n), complex)
    cap = lambda c, esr: 1 / (esr + 1 / (s * c))
    # Each noise as a current: into a node, out of another (none: the return).
    noises = [(0, None, G * e0 * np.sqrt(1 + corner / f))]
    y[0, 0] += G + 1 / INSIDE + cap(c_out, esr_out)
    noises.append((0, None, cap(c_out, esr_out) * np.sqrt(KT4 * esr_out)))
    for k, (r, l, c, esr) in enumerate(stages):
        series = 1 / (r + s * l)
        y[k, k] += series
        y[k + 1, k + 1] += series + cap(c, esr)
        y[k, k + 1] -= series
        y[k + 1, k] -= series
        noises.append((k + 1, k, series * np.sqrt(KT4 * r)))
        noises.append((k + 1, None, cap(c, esr) * np.sqrt(KT4 * esr)))
    squares = np.zeros(n)
    for into, out, amps in noises:
        right = np.zeros(n, complex)
        right[into] += amps
        if out is not None:
            right[out] -= amps
        squares += np.abs(np.linalg.solve(y, right)) ** 2
    return squares[0], squares[-1]


def rms(which, *circuit):
    total = 0.0
    edges = np.linspace(np.log(LOW), np.log(HIGH), 81)
    for low, high in zip(edges, edges[1:]):
        part, _ = quad(lambda x: density_squares(np.exp(x), *circuit)[which] * np.exp(x), low, high, epsabs=0, epsrel=1e-9, limit=200)
        total += part
    return np.sqrt(total)


rows = []
for count in [1, 1, 1, 2, 2, 1, 2, 1]:
    e0, corner = 10 ** rng.uniform(-8, -6), 10 ** rng.uniform(0, 3)
    c_out, esr_out = 10 ** rng.uniform(-5, -3.5), 10 ** rng.uniform(-1.5, 0)
    stages = []
    for _ in range(count):
        c = 10 ** rng.uniform(-5, -3)
        if rng.uniform() < 0.5:
            l = 10 ** rng.uniform(-4, -2.3)
            r, esr = np.sqrt(l / c) * 10 ** rng.uniform(-1.2, -0.3), 10 ** rng.uniform(-2, -0.5)
        else:
            l, r, esr = 0.0, 10 ** rng.uniform(0, 2), 10 ** rng.uniform(-2, 0)
        stages.append((r, l, c, esr))
    # As they are written into a job, and computed from that.
    cut = lambda value: float(f"{value:.4g}")
    e0, corner, c_out, esr_out = map(cut, (e0, corner, c_out, esr_out))
    stages = [tuple(map(cut, stage)) for stage in stages]
    circuit = (e0, corner, c_out, esr_out, stages)
    rows.append([e0, corner, c_out, esr_out, count, *np.ravel(stages), rms(0, *circuit), rms(-1, *circuit)])

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "behind.csv"), "w", newline="") as file:
    csv.writer(file, lineterminator="\n").writerows([[f"{value:.10g}" for value in row] for row in rows])
