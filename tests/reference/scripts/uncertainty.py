"""Intervals of sums and functions of uncertain numbers, exactly: the examples of JCGM 101:2008 clause 9 and the vernier
caliper of EA-4/02 supplement 1, example S10. Writes uncertainty.json."""

import itertools
import json
import math

import mpmath as mp
import numpy as np
from place import OUT
from scipy import optimize, stats

mp.mp.dps = 40
LEVELS = {"90": 0.05, "95": 0.025}


def below(cdf, p, low, high):
    return optimize.brentq(lambda y: cdf(y) - p, low, high, xtol=1e-13)


def of_rectangles(y, half_widths):
    """Chance that a sum of rectangular numbers about 0 lies below y."""
    n, total = len(half_widths), mp.mpf(0)
    for signs in itertools.product((1, -1), repeat=n):
        t = mp.mpf(y) + sum(s * h for s, h in zip(signs, half_widths))
        if t > 0:
            total += (1 if signs.count(-1) % 2 == 0 else -1) * t**n
    return total / (mp.factorial(n) * mp.fprod(2 * h for h in half_widths))


def symmetric(cdf, low, high):
    return {name: [below(cdf, p, low, high), below(cdf, 1 - p, low, high)] for name, p in LEVELS.items()}


root3 = mp.sqrt(3)
small = lambda y: float(of_rectangles(y, [root3] * 4))
large = lambda y: float(of_rectangles(y, [root3] * 3 + [10 * root3]))
caliper = lambda y: float(of_rectangles(y, [mp.mpf(50), mp.mpf(25)]))

# 9.3: the normal part for itself, the three rectangular ones by quadrature
m, sd = 100000.0 + 1.234, math.hypot(0.05, 0.02)
x, weight = np.polynomial.legendre.leggauss(48)
air, weights_, reference = 0.1 * x, 8000 + 1000 * x, 8000 + 50 * x
k = air[:, None, None] * (1 / weights_[None, :, None] - 1 / reference[None, None, :])
all_weights = (weight[:, None, None] * weight[None, :, None] * weight[None, None, :] / 8).ravel()
middle, width = (m * (1 + k) - 100000.0).ravel(), (sd * (1 + k)).ravel()
mass = lambda y: float((all_weights * stats.norm.cdf((y - middle) / width)).sum())

out = {
    "normals": {"published_95": [-3.92, 3.92], **symmetric(lambda y: stats.norm.cdf(y / 2), -9, 9)},
    "rectangles": {"published_95": [-3.88, 3.88], **symmetric(small, -6.9, 6.9)},
    "one_large_rectangle": {"published_95": [-17.0, 17.0], **symmetric(large, -22, 22)},
    "mass": {"published_95": [1.0834, 1.3825], **symmetric(mass, 0.2, 2.4)},
    "caliper_um": {"published_95": [-60.0, 60.0], **symmetric(caliper, -74.9, 74.9)},
}
assert round(2 * math.sqrt(3) * (2 - (3 / 5) ** 0.25), 2) == 3.88
for x1 in (0.0, 0.01, 0.05):
    law = stats.ncx2(2, (x1 / 0.005) ** 2) if x1 > 0 else stats.chi2(2)
    squares = {name: [25 * law.ppf(p), 25 * law.ppf(1 - p)] for name, p in LEVELS.items()}
    out[f"squares_{x1}"] = {"times": 1e-6, **squares}
for name, published in ((n, v["published_95"]) for n, v in out.items() if "published_95" in v):
    off = max(abs(a - b) for a, b in zip(published, out[name]["95"]))
    assert off < {"caliper_um": 1.0, "mass": 0.0012, "one_large_rectangle": 0.05}.get(name, 0.005), (name, off)
(OUT / "uncertainty.json").write_text(json.dumps(out, indent=1) + "\n")
