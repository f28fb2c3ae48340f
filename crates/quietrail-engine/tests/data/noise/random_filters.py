"""Noise behind random filters by a general-purpose quadrature library (scipy.integrate.quad, QUADPACK).

Run: python random_filters.py > random_filters.json. The filters are chains of stages, each a series resistance and
inductance and a shunt capacitance with its series resistance. Noise of a given density stands in series with the first
stage. The chain matrix of each stage is multiplied out here; nothing is taken from the code that it checks.
"""
import json
import math
import random

from scipy.integrate import quad


def gain_square(stages, load, hertz):
    s = 2j * math.pi * hertz
    a, b, c, d = 1, 0, 0, 1
    for r, l, cap, esr in stages:
        z = r + s * l
        y = 1 / (esr + 1 / (s * cap))
        # series z, then shunt y
        a, b = a, a * z + b
        c, d = c, c * z + d
        a, b = a + b * y, b
        c, d = c + d * y, d
    # v1 = a v2 + b i2, i2 = v2/load
    return abs(1 / (a + b / load)) ** 2


def main():
    random.seed(20261125)
    filters = []
    while len(filters) < 24:
        stages = []
        for _ in range(random.randint(1, 4)):
            r = 10 ** random.uniform(-1.5, 2.5)
            l = 0 if random.random() < 0.4 else 10 ** random.uniform(-6, -1.5)
            cap = 10 ** random.uniform(-8, -3)
            esr = 10 ** random.uniform(-3, 0)
            stages.append((r, l, cap, esr))
        load = 10 ** random.uniform(1, 5)
        low = 10 ** random.uniform(-1, 2)
        high = low * 10 ** random.uniform(1, 5)
        # Resonances are handed to the quadrature as break points, so that none is missed.
        grid = [math.log(low) + k * (math.log(high) - math.log(low)) / 40000 for k in range(40001)]
        values = [gain_square(stages, load, math.exp(x)) for x in grid]
        peaks = [grid[k] for k in range(1, 40000) if values[k] > values[k - 1] and values[k] > values[k + 1]]

        def density(x):
            hertz = math.exp(x)
            return gain_square(stages, load, hertz) * hertz

        edges = [math.log(low)] + peaks + [math.log(high)]
        total = 0.0
        for left, right in zip(edges, edges[1:]):
            parts = 16
            for k in range(parts):
                one = left + (right - left) * k / parts
                two = left + (right - left) * (k + 1) / parts
                value, _ = quad(density, one, two, epsabs=0, epsrel=1e-12, limit=400)
                total += value
        filters.append({
            "stages": [{"ohms": r, "henries": l, "farads": c, "esr": e} for r, l, c, e in stages],
            "load": load, "low": low, "high": high,
            "peak": max(values) ** 0.5, "rms_per_density": total ** 0.5,
        })
    print(json.dumps({"filters": filters}, indent=1))


main()
