"""Four supplies by a general-purpose ODE library (scipy's Radau), in the plainest form of their equations.

Writes pass_elements.csv beside it, which the test pass_elements.rs reads. Run: python3 pass_elements.py (numpy and scipy; any
recent version). Nothing of quietrail is used.

source      mains through a primary with resistance and a linear magnetising inductance, ideal coupling, a secondary with
            resistance, a bridge of exponential diodes with series resistance, a reservoir.
dropout     a regulator with a first-order loop, a flat rejection, a line of dropout and a current limit; an output capacitor
            and a resistive load. In a part of each cycle the valley is below what the regulator needs.
starts      the same from zero volts, with a larger output capacitor and a current limit that falls along a line of input less output, into a load of constant
            current that tapers to nothing below a volt: one that it starts, one at which it stays.
multiplier  a transistor by the equations of Ebers and Moll with a collector resistance and an effect of the collector's
            voltage on the base's width; a resistor and a capacitor at its base, a capacitor and a resistor at its emitter.

All temperatures are 25 C. Capacitors have no series resistance, so that node voltages are states.
"""

import csv
import os

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

HERTZ = 50.0
W = 2 * np.pi * HERTZ
VT = 1.380649e-23 * 298.15 / 1.602176634e-19
R_P, R_S = 43.0, 0.57
OPEN, AT = 16.8, 233.0
MAINS = 230.0
NO_LOAD, NO_LOAD_AT = 0.022, 230.0
IS, N, R_D = 14e-9, 1.98, 0.034

Z_M = NO_LOAD_AT / NO_LOAD
X_M = np.sqrt(Z_M**2 - R_P**2)
L_M = X_M / W
RATIO = OPEN / AT * np.sqrt(1 + (R_P / X_M) ** 2)
BEHIND = RATIO**2 * R_P + R_S


def source(t, i_m, raw):
    """Current of the bridge, and the rate of the magnetising current."""
    mains = np.sqrt(2) * MAINS * np.sin(W * t)
    drive = RATIO * (mains - R_P * i_m)
    size = abs(drive)
    i = 0.0
    if size > raw:

        def rest(i):
            return size - BEHIND * i - 2 * (N * VT * np.log1p(i / IS) + R_D * i) - raw

        i = brentq(rest, 0.0, (size + abs(raw)) / BEHIND, xtol=1e-14, rtol=1e-13)
    return i, (mains - R_P * (i_m + RATIO * np.sign(drive) * i)) / L_M


def softplus(x):
    return np.logaddexp(0.0, x)


K = 8
SET, ACROSS = 12.0, 5.0
REJECTION = 10 ** (-60 / 20)
G = 1 / 0.02
TAU = 20e-6
C_RAW, C_OUT = 2200e-6, 100e-6


def passed(asked, headroom, bends, limit):
    """The smaller of what the loop asks, what the headroom allows and the limit, each handed over softly."""
    w = 1e-3 * limit
    ask = w * softplus(asked / w)
    volts = w / bends[0][1]
    allow, last = 0.0, 0.0
    for bend, slope in bends:
        allow += (slope - last) * volts * softplus((headroom - bend) / volts)
        last = slope
    values = [max(v, 1e-200) for v in (ask, allow, limit)]
    least = min(values)
    return least * sum((least / v) ** K for v in values) ** (-1 / K)


def regulated(bends, limit, load, c_out=C_OUT):
    def rates(t, y):
        raw, i_m, asked, out = y
        i, rate = source(t, i_m, raw)
        through = passed(asked, raw - out, bends, limit)
        want = SET + REJECTION * (raw - SET - ACROSS)
        return [(i - through) / C_RAW, rate, (G * (want - out) - asked) / TAU, (through - load(out) - out / 1e6) / c_out]

    return rates


def integrate(rates, start, cycles, times):
    found = solve_ivp(rates, (0, cycles / HERTZ), start, "Radau", times, rtol=1e-9, atol=1e-11, max_step=2e-4)
    assert found.success
    return found.y


UP = (0.6, 1 / 0.8)
# Begun where it will be: its mean would take seconds to fade.
MAGNETISED = -np.sqrt(2) * MAINS * X_M / Z_M**2


def dropout():
    cycles = 60
    times = np.linspace((cycles - 1) / HERTZ, cycles / HERTZ, 4001)
    rates = regulated([UP], 3.0, lambda v: v / 7.0)
    y = integrate(rates, [14.0, MAGNETISED, 1.7, 11.9], cycles, times)
    for name, v in (("raw", y[0]), ("out", y[3])):
        mean = np.mean(v[:-1])
        yield "dropout", f"{name} mean", mean
        yield "dropout", f"{name} valley", np.min(v)
        yield "dropout", f"{name} ripple", np.sqrt(np.mean((v[:-1] - mean) ** 2))


def taper(v):
    u = min(max(v, 0.0), 1.0)
    return u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)


def starts():
    # Allowed current: up along the dropout, then down from 1.5 A at 4 V to 0.3 A at 14 V, level beyond.
    fall = (0.3 - 1.5) / 10.0
    crossing = (1.5 - fall * 4.0 + UP[1] * UP[0]) / (UP[1] - fall)
    bends = [UP, (crossing, fall), (14.0, 0.0)]
    for name, amps in (("starts", 0.25), ("stays", 0.8)):
        at = [0.25, 0.5, 1, 1.5, 2, 3, 5, 10, 20]
        times = np.array(at) / HERTZ
        y = integrate(regulated(bends, 2.0, lambda v: amps * taper(v), 2200e-6), [0.0] * 4, 20, times)
        for cycles, v in zip(at, y[3]):
            yield name, f"{cycles}", v


GAIN = 60.0
FORWARD, REVERSE = GAIN / (GAIN + 1), 0.5
I_S = 1.0 / np.exp(0.7 / VT)
R_C, EARLY = 0.2, 100.0
# Saturation: 0.3 V at 1 A and a tenth of that in the base, of which 0.1 V are the junctions'.
E_SAT = ((1 - REVERSE) + 0.1) / (1 - FORWARD * REVERSE)
I_SC = (FORWARD * E_SAT - 1) / np.exp((VT * np.log(E_SAT / I_S) - 0.1) / VT)
FEEDBACK = VT / EARLY
R_B, C_B, R_LOAD = 68.0, 470e-6, 20.0


def junction(volts, saturation):
    return saturation * np.expm1(volts / VT)


def multiplier():
    def transistor(raw, v_b, v_e):
        def currents(v_c):
            return junction(v_b - v_e + FEEDBACK * (v_c - v_b), I_S), junction(v_b - v_c, I_SC)

        def rest(v_c):
            i_e, i_r = currents(v_c)
            return FORWARD * i_e - i_r - (raw - v_c) / R_C

        v_c = brentq(rest, v_b - 0.9, raw + 0.5, xtol=1e-13, rtol=1e-13)
        return *currents(v_c), v_c

    def rates(t, y):
        raw, i_m, v_b, v_e = y
        i, rate = source(t, i_m, raw)
        i_e, i_r, v_c = transistor(raw, v_b, v_e)
        i_b = (1 - FORWARD) * i_e + (1 - REVERSE) * i_r
        up = (raw - v_b) / R_B
        return [
            (i - up - (raw - v_c) / R_C) / C_RAW,
            rate,
            (up - i_b) / C_B,
            (i_e - REVERSE * i_r - v_e / R_LOAD) / C_OUT,
        ]

    cycles = 150
    times = np.linspace((cycles - 1) / HERTZ, cycles / HERTZ, 4001)
    y = integrate(rates, [17.0, MAGNETISED, 17.2, 16.5], cycles, times)
    across = y[0] - y[3]
    yield "multiplier", "across valley", np.min(across)
    for name, v in (("raw", y[0]), ("base", y[2]), ("out", y[3])):
        mean = np.mean(v[:-1])
        yield "multiplier", f"{name} mean", mean
        yield "multiplier", f"{name} ripple", np.sqrt(np.mean((v[:-1] - mean) ** 2))


if __name__ == "__main__":
    with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "pass_elements.csv"), "w", newline="") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow(["supply", "figure", "volts"])
        for part in (dropout, starts, multiplier):
            for supply, figure, volts in part():
                write.writerow([supply, figure, f"{volts:.9g}"])
                file.flush()
