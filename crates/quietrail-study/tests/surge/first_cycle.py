"""First cycle into an empty reservoir, by a general-purpose ODE library (scipy's Radau), in the plainest form of the equations.

Writes first_cycle.csv beside it, which the test first_cycle.rs reads. Run: python3 first_cycle.py (numpy and scipy; any recent
version). The circuit is that of the job in first_cycle.rs: mains, primary with resistance and a linear magnetising inductance,
ideal coupling, secondary with resistance, a bridge of exponential diodes with series resistance, a capacitor with series
resistance, and a resistor across it. Nothing of quietrail is used.
"""

import csv
import os

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

HERTZ = 50.0
W = 2 * np.pi * HERTZ
MAINS = 253.0  # the highest of 230 V +/-10 %
R_P = 43.0
R_S = 0.57
OPEN, AT = 16.8, 233.0  # read off load
NO_LOAD, NO_LOAD_AT = 0.022, 230.0
IS, N, R_D = 14e-9, 1.98, 0.034  # at 25 C
VT = 1.380649e-23 * 298.15 / 1.602176634e-19
C, ESR = 4700e-6, 0.045
R_L = 40.0

Z_M = NO_LOAD_AT / NO_LOAD
X_M = np.sqrt(Z_M**2 - R_P**2)
L_M = X_M / W
RATIO = OPEN / AT * np.sqrt(1 + (R_P / X_M) ** 2)


def out(v_c, i):
    """Volts across the load, with i into it and the capacitor."""
    return (v_c + ESR * i) / (1 + ESR / R_L)


def secondary(t, v_c, i_m, angle):
    """The current that satisfies Kirchhoff round the secondary."""
    mains = np.sqrt(2) * MAINS * np.sin(W * t + angle)
    drive = RATIO * (mains - R_P * i_m)
    behind = RATIO**2 * R_P + R_S

    def rest(i):
        size = abs(i)
        drop = 2 * (N * VT * np.log1p(size / IS) + R_D * size) + out(v_c, size)
        return drive - behind * i - np.sign(drive) * drop

    if abs(drive) <= out(v_c, 0.0):
        # Both pairs block, but for the foot of their curves, which carries less than Is.
        return 0.0, mains
    most = drive / behind
    i = brentq(rest, 0.0, most, xtol=1e-14, rtol=1e-13)
    return i, mains


def first_cycle(angle):
    def rates(t, y):
        v_c, i_m, _, _ = y
        i, mains = secondary(t, v_c, i_m, angle)
        e_p = mains - R_P * (i_m + RATIO * i)
        v_out = out(v_c, abs(i))
        return [(abs(i) - v_out / R_L) / C, e_p / L_M, i * i, (i_m + RATIO * i) ** 2]

    times = np.linspace(0, 1 / HERTZ, 20001)
    run = solve_ivp(rates, (0, 1 / HERTZ), [0.0, 0.0, 0.0, 0.0], "Radau", times, rtol=1e-9, atol=1e-12, max_step=2e-5)
    assert run.success
    current = np.array([abs(secondary(t, v, m, angle)[0]) for t, v, m in zip(run.t, run.y[0], run.y[1])])
    k = int(np.argmax(current))
    peak = current[k]
    if 0 < k < len(current) - 1:
        a, b, c = current[k - 1 : k + 2]
        if a - 2 * b + c < 0:
            peak = b - (c - a) ** 2 / (8 * (a - 2 * b + c))
    return peak, run.y[2][-1], run.y[3][-1]


if __name__ == "__main__":
    with open(os.path.join(os.path.dirname(__file__), "first_cycle.csv"), "w", newline="") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow(["angle_deg", "peak_a", "i2t_a2s", "primary_i2t_a2s"])
        for degrees in [0, 30, 45, 60, 90, 120, 150]:
            peak, i2t, primary = first_cycle(np.radians(degrees))
            write.writerow([degrees, f"{peak:.7g}", f"{i2t:.7g}", f"{primary:.7g}"])
