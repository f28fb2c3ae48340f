"""Rings by general-purpose libraries: loops stepped by scipy's ODE solver, tanks and snubbers by numpy's eigenvalues.

Writes ringing.csv beside it, which the test ringing.rs reads. Run: python3 ringing.py (numpy and scipy; any recent version).
Nothing of quietrail is used.

loop      a loop of gain K/(s (s T + 1)): phase margin from its frequency response at the crossing, found by brentq; swings from an
          integration of the closed loop disturbed by a step, at its zero crossings of velocity.
tank      an inductor and a capacitor, and the same with another capacitor across: ring frequencies from eigenvalues.
snubber   an inductor and a capacitor with a resistor and a capacitor in series across: damping ratio of the least damped pair of
          eigenvalues of the state equations.
best      the resistor that damps most, by scipy's bounded scalar minimiser on those eigenvalues.
"""

import csv
import os

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar

rng = np.random.default_rng(20)
rows = []

for _ in range(12):
    gain = 10 ** rng.uniform(3, 6)
    lag = 10 ** rng.uniform(0.0, 2.4) / gain
    loop = lambda w: gain / (1j * w * (1j * w * lag + 1))
    crossing = brentq(lambda x: abs(loop(np.exp(x))) - 1, np.log(gain) - 12, np.log(gain) + 12, xtol=1e-14)
    margin = 180 + np.degrees(np.angle(loop(np.exp(crossing))))
    # Closed: lag y'' + y' + gain y = disturbance that steps at the output; y dies away from 0 with a velocity.
    velocity = lambda t, y: y[1]
    natural = np.sqrt(gain / lag)
    span = 14 / natural
    run = solve_ivp(lambda t, y: [y[1], -(y[1] + gain * y[0]) / lag], (0, span), [0.0, natural], method="DOP853",
                    rtol=1e-12, atol=1e-15, events=velocity)
    peaks = [abs(y[0]) for y in run.y_events[0]][:4]
    rows.append(["loop", margin] + peaks)

def poles(l, c, r=None, s=None):
    if r is None:
        return np.linalg.eigvals([[0, -1 / l], [1 / c, 0]])
    # inductor current, voltage of the tank, voltage of the snubber's capacitor
    return np.linalg.eigvals([[0, -1 / l, 0], [1 / c, -1 / (r * c), 1 / (r * c)], [0, 1 / (r * s), -1 / (r * s)]])

def ratio(values):
    pairs = [v for v in values if abs(v.imag) > 1e-6 * abs(v)]
    return min((-v.real / abs(v) for v in pairs), default=1.0)

for _ in range(12):
    l, c = 10 ** rng.uniform(-7, -2), 10 ** rng.uniform(-11, -7)
    added = c * 10 ** rng.uniform(-0.5, 1.2)
    ring = lambda c: max(poles(l, c).imag) / (2 * np.pi)
    rows.append(["tank", l, c, added, ring(c), ring(c + added)])

for _ in range(12):
    l, c = 10 ** rng.uniform(-7, -2), 10 ** rng.uniform(-11, -7)
    r, s = np.sqrt(l / c) * 10 ** rng.uniform(-0.7, 0.7), c * 10 ** rng.uniform(-0.3, 1.0)
    rows.append(["snubber", l, c, r, s, ratio(poles(l, c, r, s))])

for times in [1.0, 2.0, 3.3, 5.0, 7.0]:
    found = minimize_scalar(lambda x: -ratio(poles(1.0, 1.0, np.exp(x), times)), bounds=(-2, 2), method="bounded",
                            options={"xatol": 1e-12})
    rows.append(["best", times, np.exp(found.x), -found.fun])

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "ringing.csv"), "w", newline="") as file:
    csv.writer(file, lineterminator="\n").writerows([[row[0]] + [f"{value:.12g}" for value in row[1:]] for row in rows])
