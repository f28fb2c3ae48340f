"""The best peers at the settings that keep 1e-6 (see README.md), timed once: one JSON object on one line.

    python race.py samples DIR    writes the 10,000 rows of each problem: P1.txt, P5.txt, P6.txt
    python race.py run            times the peers on those rows and compares with the rows of truth/
"""
import json, os, sys, time
from common import *
import peer_numba as pn
import peer_numba_fixed as pf

HERE = os.path.dirname(os.path.abspath(__file__))
STEPS = 128          # of half a period, P1 and P5
RODAS, STOP = 1e-7, 3e-6  # tolerance and shooting stop, P6
COUNT = {1: 10000, 5: 10000, 6: 400}


def known(kind):
    return np.loadtxt(os.path.join(HERE, "truth", f"P{kind}.txt"))


def timed(run, least=0.3):
    """seconds of one run, the best of those that fit"""
    best, spent = np.inf, 0.0
    while spent < least:
        t0 = time.perf_counter(); run(); took = time.perf_counter() - t0
        best = min(best, took); spent += took
    return best


def fixed(kind):
    one, batch = (pf.pss1, pf.batch1) if kind == 1 else (pf.pss5, pf.batch5)
    S = np.sin(np.pi * np.arange(2 * STEPS + 1) / (2 * STEPS))
    P, rows = samples(kind, 10000)[:COUNT[kind]], known(kind)
    batch(P[:4], STEPS, 1e-6); one(NOM[kind], STEPS, 1e-6, S)
    error = np.abs(batch(np.ascontiguousarray(rows[:, :9]), STEPS, 1e-6) / rows[:, 9] - 1).max()
    return timed(lambda: one(NOM[kind], STEPS, 1e-6, S)), len(P) / timed(lambda: batch(P, STEPS, 1e-6)), error


def rodas(kind):
    P, rows = samples(kind, 10000)[:COUNT[kind]], known(kind)
    r, x, J = pn.nominal(1, kind, RODAS, STOP)
    run = lambda P: pn.batch(1, kind, NXS[kind], x, P, NOM[kind], RAILS, RODAS, STOP, J)
    run(P[:1])
    error = np.abs(run(np.ascontiguousarray(rows[:, :9])) / rows[:, 9] - 1).max()
    return timed(lambda: pn.nominal(1, kind, RODAS, STOP)), len(P) / timed(lambda: run(P)), error


if __name__ == "__main__":
    if sys.argv[1] == "samples":
        for kind in (1, 5, 6):
            np.savetxt(os.path.join(sys.argv[2], f"P{kind}.txt"), samples(kind, 10000), fmt="%.17g")
    else:
        out = {}
        for kind, peer in ((1, fixed), (5, fixed), (6, rodas)):
            one, batch, error = peer(kind)
            out[f"P{kind}"] = {"one": one, "batch": batch, "max_error": error}
        print(json.dumps(out))
