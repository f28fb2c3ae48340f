"""First cycle into empty reservoirs, by a general-purpose ODE library (scipy's Radau), in the plainest form of the equations.

Writes first_cycle.csv beside it, which the test first_cycle.rs reads. Run: python3 first_cycle.py (numpy and scipy; any recent
version). The circuits are those of the jobs in first_cycle.rs: mains, primary with resistance and a linear magnetising
inductance, ideal coupling, secondaries with resistance, exponential diodes with series resistance, capacitors with series
resistance, and a resistor across the output; one for each form of rectifier. Nothing of quietrail is used.
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


def drop(i):
    """Volts across a diode."""
    return N * VT * np.log1p(i / IS) + R_D * i


def mains(t, angle):
    return np.sqrt(2) * MAINS * np.sin(W * t + angle)


def loop(drive, behind, diodes, store):
    """The current with which `drive` is met by `behind` ohms, some diodes and `store(i)` volts; none where they block."""
    if drive <= store(0.0):
        # But for the foot of the curves, which carries less than IS.
        return 0.0
    most = (drive - store(0.0)) / behind
    return brentq(lambda i: drive - behind * i - diodes * drop(i) - store(i), 0.0, most, xtol=1e-14, rtol=1e-13)


def one_reservoir(diodes, both_halves, times):
    """Bridge (two diodes), centre tap (one, each half in turn), half-wave (one, one half cycle), split (one, `times` 2)."""

    def circuit(t, y, angle):
        v_c, i_m = y[:2]
        sign = 1.0
        drive = RATIO * (mains(t, angle) - R_P * i_m)
        if drive < 0 and both_halves:
            sign, drive = -1.0, -drive
        # `times` equal currents flow in the secondaries at once.
        i = loop(drive, times * RATIO**2 * R_P + R_S, diodes, lambda i: (v_c + ESR * i) / (1 + ESR / R_L))
        out = (v_c + ESR * i) / (1 + ESR / R_L)
        primary = i_m + times * RATIO * sign * i
        e_p = mains(t, angle) - R_P * primary
        return i, primary, [(i - out / R_L) / C, e_p / L_M]

    return circuit, 2


def doubler(t, y, angle):
    """Two capacitors, each filled in one half cycle; the current is that into the upper one."""
    v_a, v_b, i_m = y[:3]
    drive = RATIO * (mains(t, angle) - R_P * i_m)
    behind = RATIO**2 * R_P + R_S

    def load(i):
        return (v_a + v_b + ESR * i) / (R_L + 2 * ESR)

    up = loop(drive, behind, 1, lambda i: v_a + ESR * (i - load(i)))
    down = loop(-drive, behind, 1, lambda i: v_b + ESR * (i - load(i)))
    primary = i_m + RATIO * (up - down)
    e_p = mains(t, angle) - R_P * primary
    out = load(up + down)
    return up, primary, [(up - out) / C, (down - out) / C, e_p / L_M]


def cascade(t, y, angle):
    """A pump capacitor in the winding's lead, a diode that fills it, one into the reservoir."""
    v_p, v_c, i_m = y[:3]
    drive = RATIO * (mains(t, angle) - R_P * i_m)
    behind = RATIO**2 * R_P + R_S + ESR
    up = loop(drive + v_p, behind, 1, lambda i: (v_c + ESR * i) / (1 + ESR / R_L))
    down = loop(-drive - v_p, behind, 1, lambda i: 0.0)
    out = (v_c + ESR * up) / (1 + ESR / R_L)
    primary = i_m + RATIO * (up - down)
    e_p = mains(t, angle) - R_P * primary
    return up, primary, [(down - up) / C, (up - out / R_L) / C, e_p / L_M]


FORMS = {
    "bridge": one_reservoir(2, True, 1),
    "centre-tap": one_reservoir(1, True, 1),
    "half-wave": one_reservoir(1, False, 1),
    "split": one_reservoir(1, True, 2),
    "doubler": (doubler, 3),
    "cascade doubler": (cascade, 3),
}


def first_cycle(circuit, stores, angle):
    def rates(t, y):
        i, primary, slopes = circuit(t, y, angle)
        return [*slopes, i * i, primary**2]

    times = np.linspace(0, 1 / HERTZ, 20001)
    start = [0.0] * (stores + 2)
    run = solve_ivp(rates, (0, 1 / HERTZ), start, "Radau", times, rtol=1e-9, atol=1e-12, max_step=2e-5)
    assert run.success
    current = np.array([circuit(t, y, angle)[0] for t, y in zip(run.t, run.y.T)])
    k = int(np.argmax(current))
    peak = current[k]
    if 0 < k < len(current) - 1:
        a, b, c = current[k - 1 : k + 2]
        if a - 2 * b + c < 0:
            peak = b - (c - a) ** 2 / (8 * (a - 2 * b + c))
    return peak, run.y[-2][-1], run.y[-1][-1]


if __name__ == "__main__":
    with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "first_cycle.csv"), "w", newline="") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow(["form", "angle_deg", "peak_a", "i2t_a2s", "primary_i2t_a2s"])
        for form, (circuit, stores) in FORMS.items():
            for degrees in [0, 30, 45, 60, 90, 120, 150]:
                peak, i2t, primary = first_cycle(circuit, stores, np.radians(degrees))
                write.writerow([form, degrees, f"{peak:.7g}", f"{i2t:.7g}", f"{primary:.7g}"])
