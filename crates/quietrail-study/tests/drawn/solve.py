"""The circuits of this folder, written down a second time and solved by other means: prints figures.csv.

    python3 -m venv venv && venv/bin/pip install numpy
    venv/bin/python solve.py > figures.csv        # some minutes
    venv/bin/python solve.py 3000 half-wave       # other steps in a cycle, some circuits alone

Unknowns are the voltages of all nodes, the currents of branches, the junction voltages of all diodes. They satisfy
M x' + F(x, t) = 0, stepped with three-stage Radau IIA; Newton's method closes the cycle.
"""

import sys

import numpy as np

ROOT = np.sqrt(6.0)
A = np.array(
    [
        [(88 - 7 * ROOT) / 360, (296 - 169 * ROOT) / 1800, (-2 + 3 * ROOT) / 225],
        [(296 + 169 * ROOT) / 1800, (88 + 7 * ROOT) / 360, (-2 - 3 * ROOT) / 225],
        [(16 - ROOT) / 36, (16 + ROOT) / 36, 1 / 9],
    ]
)
NODES = A.sum(axis=1)

# The diode of every circuit, at 25 °C: its air and its junction alike.
SATURATION, IDEALITY, SERIES, LEAKAGE = 14e-9, 1.98, 0.034, 1e-9
SLOPE = IDEALITY * 1.380649e-23 * 298.15 / 1.602176634e-19


class Circuit:
    """Equations as they grow. Node "0" is common."""

    def __init__(self):
        self.index, self.mass, self.linear = {}, [], []
        self.curved, self.sources, self.junctions, self.copper = [], [], [], []

    def unknown(self, name):
        return self.index.setdefault(name, len(self.index))

    def node(self, name):
        return -1 if name == "0" else self.unknown("v " + name)

    def put(self, row, column, value):
        if row >= 0 and column >= 0:
            self.linear.append((row, column, value))

    def branch(self, name, a, b):
        """A current from a to b, and the row of its voltage."""
        a, b, i = self.node(a), self.node(b), self.unknown("i " + name)
        self.put(a, i, 1.0), self.put(b, i, -1.0)
        self.put(i, a, 1.0), self.put(i, b, -1.0)
        return i

    def resistor(self, name, a, b, ohms):
        i = self.branch(name, a, b)
        self.put(i, i, -ohms)
        return i

    def inductor(self, name, a, b, henries, ohms):
        i = self.resistor(name, a, b, ohms)
        self.mass.append((i, i, -henries))

    def capacitor(self, name, a, b, farads, esr, leakage=0.0):
        i = self.resistor(name, a, b, esr)
        v = self.unknown("stored " + name)
        self.put(i, v, -1.0)
        self.mass.append((v, v, farads))
        self.put(v, v, leakage), self.put(v, i, -1.0)

    def source(self, name, a, b, wave):
        i = self.branch(name, a, b)
        self.sources.append((i, wave))

    def transformer(self, windings, no_load, primary):
        """Windings of (name, start, finish, volts off load at an ideal primary, ohms, leakage)."""
        core, magnetising = self.unknown("volts a turn"), self.unknown("magnetising")
        reactance = no_load[1] / no_load[0]
        henries = np.sqrt(reactance**2 - primary[1] ** 2) / no_load[2] / primary[0] ** 2
        self.put(core, magnetising, -1.0)
        self.mass.append((magnetising, magnetising, henries))
        self.put(magnetising, core, -1.0)
        for name, start, finish, turns, ohms, leakage in windings:
            i = self.resistor(name, start, finish, ohms)
            self.put(i, core, -turns), self.put(core, i, turns)
            self.copper.append((name, ohms))
            if leakage:
                self.mass.append((i, i, -leakage))

    def diode(self, name, anode, cathode):
        a, c, j = self.node(anode), self.node(cathode), self.unknown("junction " + name)
        self.junctions.append(j)
        self.put(j, a, 1.0), self.put(j, c, -1.0)

        def add(x, f, jacobian):
            raised = np.exp(min(x[j] / SLOPE, 200.0))
            amps = SATURATION * (raised - 1.0) + LEAKAGE * x[j]
            siemens = SATURATION * raised / SLOPE + LEAKAGE
            for row, sign in ((a, 1.0), (c, -1.0)):
                if row >= 0:
                    f[row] += sign * amps
                    jacobian[row, j] += sign * siemens
            f[j] -= x[j] + SERIES * amps
            jacobian[j, j] -= 1.0 + SERIES * siemens

        self.curved.append(add)

    def draw(self, a, b, law):
        """A current from a to b that is a function of the voltage; `law` gives it with its slope."""
        a, b = self.node(a), self.node(b)

        def add(x, f, jacobian):
            amps, siemens = law((x[a] if a >= 0 else 0.0) - (x[b] if b >= 0 else 0.0))
            for row, sign in ((a, 1.0), (b, -1.0)):
                if row >= 0:
                    f[row] += sign * amps
                    for column, other in ((a, 1.0), (b, -1.0)):
                        if column >= 0:
                            jacobian[row, column] += sign * other * siemens

        self.curved.append(add)

    def bridge(self, a, b, plus, minus):
        for name, anode, cathode in (("D1", a, plus), ("D2", b, plus), ("D3", minus, a), ("D4", minus, b)):
            self.diode(name, anode, cathode)

    def residual(self, x, t):
        f, jacobian = self.rows @ x, self.rows.copy()
        for add in self.curved:
            add(x, f, jacobian)
        for row, wave in self.sources:
            f[row] -= wave(t)
        return f, jacobian

    def step(self, x, t, h):
        n = len(x)
        stages = np.tile(x, (3, 1))
        for _ in range(200):
            f, matrix = np.empty((3, n)), np.kron(np.eye(3), self.stores)
            for k in range(3):
                f[k], jacobian = self.residual(stages[k], t + NODES[k] * h)
                for i in range(3):
                    matrix[i * n : (i + 1) * n, k * n : (k + 1) * n] += h * A[i, k] * jacobian
            rest = (stages - x) @ self.stores.T + h * (A @ f)
            change = np.linalg.solve(matrix, -rest.ravel()).reshape(3, n)
            size = np.max(np.abs(change) / (1e-3 + np.abs(stages)))
            for j in self.junctions:  # no exponential is climbed in one go
                for k in range(3):
                    if change[k, j] > SLOPE and stages[k, j] + change[k, j] > 5 * SLOPE:
                        if stages[k, j] < 0:
                            change[k, j] = min(change[k, j], 10 * SLOPE - stages[k, j])
                        else:
                            change[k, j] = SLOPE * np.log1p(change[k, j] / SLOPE)
            stages = stages + change
            if size < 1e-10:
                return stages, matrix
        raise RuntimeError("a step was not found")

    def cycle(self, x, mesh):
        """End, its derivative against the start, times and values of all stages."""
        derivative, times, values = np.eye(len(x)), [], []
        for t, h in zip(mesh[:-1], np.diff(mesh)):
            stages, matrix = self.step(x, t, h)
            known = np.vstack([self.stores @ derivative] * 3)
            derivative = np.linalg.solve(matrix, known)[2 * len(x) :]
            x = stages[2]
            times.extend(t + NODES * h), values.extend(stages)
        return x, derivative, np.array(times), np.array(values)

    def settle(self, period, steps, start):
        n = len(self.index)
        self.rows, self.stores = np.zeros((n, n)), np.zeros((n, n))
        for where, entries in ((self.rows, self.linear), (self.stores, self.mass)):
            for row, column, value in entries:
                where[row, column] += value
        own = np.flatnonzero(np.abs(self.stores).sum(axis=0) > 0)
        x = np.zeros(n)
        for name, value in start.items():
            x[self.index[name]] = value
        rough, fine = (np.linspace(0.0, period, count + 1) for count in (1500, steps))
        for _ in range(4):
            x = self.cycle(x, rough)[0]
        for mesh, most, near in ((rough, 25, 1e-9), (fine, 6, 1e-10)):
            for _ in range(most):
                end, derivative, _, _ = self.cycle(x, mesh)
                lead = np.eye(len(own)) - derivative[np.ix_(own, own)]
                change = np.linalg.solve(lead, (end - x)[own])
                before, x = x[own], end
                x[own] = before + change
                if np.max(np.abs(change)) < near:
                    break
        _, _, self.times, self.values = self.cycle(x, fine)
        self.weights, self.period = np.tile(A[2], steps) * period / steps, period

    def of(self, name):
        return self.values[:, self.index[name]]

    def amps(self, diode):
        junction = self.of("junction " + diode)
        return SATURATION * (np.exp(np.minimum(junction / SLOPE, 200.0)) - 1.0) + LEAKAGE * junction

    def mean(self, signal):
        return self.weights @ signal / self.period

    def rms(self, signal):
        return np.sqrt(self.mean(signal**2))

    def highest(self, signal):
        k = int(np.argmax(signal))
        if 0 < k < len(signal) - 1:
            t = self.times[k - 1 : k + 2] - self.times[k]
            bend = np.polyfit(t, signal[k - 1 : k + 2], 2)
            if bend[0] < 0 and t[0] < (at := -bend[1] / 2 / bend[0]) < t[2]:
                return np.polyval(bend, at)
        return signal[k]


def mains(volts, hertz, flatness):
    turn, peak = 2 * np.pi * hertz, volts * np.sqrt(2.0) / np.sqrt(1 + flatness**2)
    return lambda t: peak * (np.sin(turn * t) + flatness * np.sin(3 * turn * t))


def supply(volts, hertz, flatness, primaries, secondaries, at, no_load):
    """Mains and transformer. Open volts were read at `at`, behind what the magnetising current drops."""
    c = Circuit()
    c.source("outlet", "live", "0", mains(volts, hertz, flatness))
    ends = {"one": [("live", "0")], "side by side": [("live", "0")] * 2, "in a row": [("live", "half"), ("half", "0")]}
    way, turns, ohms = primaries
    whole = {"one": ohms[0], "side by side": 1 / sum(1 / r for r in ohms), "in a row": sum(ohms)}[way]
    joined = turns * (len(ohms) if way == "in a row" else 1)
    lag = whole / np.sqrt((volts / no_load) ** 2 - whole**2)
    off_load = joined / at * np.sqrt(1 + lag**2)
    windings = [(f"P{k + 1}", *ends[way][k], turns, r, 0.0) for k, r in enumerate(ohms)]
    windings += [(name, a, b, open_volts * off_load, r, leakage) for name, a, b, open_volts, r, leakage in secondaries]
    c.transformer(windings, (no_load, volts, 2 * np.pi * hertz), (joined, whole))
    return c


def constant(amps):
    return lambda volts: (amps, 0.0)


def bridge():
    c = supply(120, 60, 0.06, ("one", 120, [4.2]), [("S1", "a", "b", 19.4, 0.41, 150e-6)], 121, 0.045)
    c.bridge("a", "b", "raw", "0")
    c.capacitor("C1", "raw", "0", 6800e-6, 0.038, 5e-6)
    c.resistor("R1", "raw", "0", 1500.0)
    c.draw("raw", "0", constant(1.35))
    return c, 60, 2, {"raw": ("raw", "0")}, {}


def centre_tap():
    halves = [("S1", "a", "0", 17.2, 0.35, 0.0), ("S2", "0", "b", 16.8, 0.52, 0.0), ("S3", "x", "y", 6.5, 0.2, 0.0)]
    c = supply(230, 50, 0.03, ("one", 230, [12.5]), halves, 231, 0.035)
    c.resistor("lamps", "x", "y", 6.5 / 0.6)
    c.resistor("tie", "y", "0", 0.0)
    c.diode("D1", "a", "raw"), c.diode("D2", "b", "raw")
    c.capacitor("C1", "raw", "0", 4700e-6, 0.05)
    c.draw("raw", "0", constant(0.8))
    return c, 50, 2, {"raw": ("raw", "0")}, {}


def half_wave():
    c = supply(230, 50, 0.0, ("one", 230, [55.0]), [("S1", "a", "0", 14.0, 0.9, 0.0)], 230, 0.012)
    c.diode("D1", "a", "raw")
    c.capacitor("C1", "raw", "0", 2200e-6, 0.09)
    c.resistor("x", "raw", "0", 68.0)
    return c, 50, 1, {"raw": ("raw", "0")}, {}


def doubler():
    c = supply(230, 50, 0.05, ("one", 230, [30.0]), [("S1", "a", "mid", 9.0, 0.3, 60e-6)], 230, 0.015)
    c.diode("D1", "a", "raw"), c.diode("D2", "0", "a")
    c.capacitor("C1", "raw", "mid", 4700e-6, 0.05)
    c.capacitor("C2", "mid", "0", 3300e-6, 0.07)
    c.draw("raw", "0", lambda volts: (7.5 / volts, -7.5 / volts**2))
    start = {"stored C1": 10.0, "stored C2": 10.0, "v raw": 20.0, "v mid": 10.0}
    return c, 50, 1, {"raw": ("raw", "0"), "mid": ("mid", "0")}, start


def choke_input():
    c = supply(230, 50, 0.02, ("one", 230, [20.0]), [("S1", "a", "b", 24.0, 0.5, 0.0)], 230, 0.02)
    c.bridge("a", "b", "in", "0")
    c.capacitor("C0", "in", "0", 100e-9, 0.5)
    c.inductor("L1", "in", "out", 60e-3, 0.8)
    c.capacitor("C1", "out", "0", 2200e-6, 0.06)
    c.resistor("x", "out", "0", 22.0)
    return c, 50, 2, {"out": ("out", "0"), "in": ("in", "0")}, {}


def two_sections():
    c = supply(115, 60, 0.04, ("side by side", 115, [8.0, 9.0]), [("S1", "a", "b", 21.0, 0.7, 0.0)], 115, 0.04)
    c.bridge("a", "b", "raw", "0")
    c.capacitor("C1", "raw", "0", 1500e-6, 0.08)
    c.resistor("R1", "raw", "mid", 4.7)
    c.capacitor("C2", "mid", "0", 1000e-6, 0.1)
    c.inductor("L1", "mid", "out", 10e-3, 0.3)
    c.capacitor("C3", "out", "0", 470e-6, 0.15)
    c.draw("out", "0", constant(0.45))
    return c, 60, 2, {name: (name, "0") for name in ("raw", "mid", "out")}, {}


def shunt():
    c = supply(230, 50, 0.0, ("one", 230, [80.0]), [("S1", "a", "b", 15.0, 1.5, 0.0)], 230, 0.012)
    c.bridge("a", "b", "raw", "0")
    c.capacitor("C1", "raw", "0", 1000e-6, 0.1)
    c.resistor("R1", "raw", "z", 150.0)
    c.draw("z", "0", lambda volts: (max(volts - 9.1, 0.0) / 5.0, 0.2 if volts > 9.1 else 0.0))
    c.resistor("x", "z", "0", 470.0)
    return c, 50, 2, {"raw": ("raw", "0"), "z": ("z", "0")}, {}


def split():
    halves = [("Sa", "a", "0", 18.0, 0.55, 45e-6), ("Sb", "0", "b", 18.0, 0.55, 45e-6)]
    c = supply(240, 50, 0.045, ("in a row", 120, [11.0, 12.5]), halves, 238, 0.025)
    c.bridge("a", "b", "plus", "minus")
    c.capacitor("C1", "plus", "0", 4700e-6, 0.05)
    c.capacitor("C2", "0", "minus", 2200e-6, 0.07)
    c.draw("plus", "0", constant(0.9))
    c.draw("0", "minus", constant(0.25))
    return c, 50, 2, {"plus": ("plus", "0"), "minus": ("minus", "0")}, {}


def cascade_doubler():
    c = supply(230, 50, 0.05, ("one", 230, [30.0]), [("S1", "a", "0", 9.0, 0.3, 0.0)], 230, 0.015)
    c.diode("D1", "pump", "raw"), c.diode("D2", "0", "pump")
    c.capacitor("C1", "a", "pump", 4700e-6, 0.05)
    c.capacitor("C2", "raw", "0", 3300e-6, 0.07)
    c.draw("raw", "0", constant(0.2))
    return c, 50, 1, {"raw": ("raw", "0")}, {}


ALL = [bridge, centre_tap, half_wave, doubler, choke_input, two_sections, shunt, split, cascade_doubler]


def figures(circuit, steps):
    c, hertz, into, nodes, start = circuit()
    c.settle(1.0 / hertz, steps, start)
    for name, (plus, minus) in nodes.items():
        volts = sum(sign * c.of("v " + end) for end, sign in ((plus, 1.0), (minus, -1.0)) if end != "0")
        mean, low, high = c.mean(volts), -c.highest(-volts), c.highest(volts)
        yield from ((f"{name} mean", mean), (f"{name} valley", low), (f"{name} peak", high))
        yield from ((f"{name} ripple_rms", c.rms(volts - mean)), (f"{name} ripple_pp", high - low))
    diodes = [name.split(" ", 1)[1] for name in c.index if name.startswith("junction ")]
    out = sum(c.amps(name) for name in diodes[:into])
    heat = (c.amps(name) * (c.of("junction " + name) + SERIES * c.amps(name)) for name in diodes)
    yield from (("D1 current", c.mean(out)), ("D1 rms current", c.rms(out)), ("D1 peak current", c.highest(out)))
    yield "D1 power", sum(c.mean(own) for own in heat)
    yield "T1 power", sum(ohms * c.rms(c.of("i " + name)) ** 2 for name, ohms in c.copper)
    for part, name in (("T1", "outlet"), ("C1", "C1")):
        amps = c.of("i " + name)
        yield f"{part} rms current", c.rms(amps)
        yield f"{part} peak current", max(c.highest(amps), c.highest(-amps))


if __name__ == "__main__":
    steps = int(sys.argv[1]) if len(sys.argv) > 1 else 6000
    print("circuit,figure,value")
    for circuit in ALL:
        name = circuit.__name__.replace("_", "-")
        if len(sys.argv) < 3 or name in sys.argv[2:]:
            for figure, value in figures(circuit, steps):
                print(f"{name},{figure},{value:.12g}", flush=True)
