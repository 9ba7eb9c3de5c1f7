"""Windows of length L with kerf k inside usable intervals or at allowed starts: closed form, dynamic programme and greedy
choice, every optimum proved by CP-SAT. Fixed seed. Writes packings.json."""
import json, random, itertools
from place import OUT, REFERENCE
from ortools.sat.python import cp_model
def solver():
    s = cp_model.CpSolver(); s.parameters.max_time_in_seconds = 60; s.parameters.num_workers = 2; s.parameters.random_seed = 7; return s
# ---- A: intervals (integer 0.1 mm units). n windows in one interval need n*L+(n-1)*k <= length
def closed(iv, L, k): return sum((b - a + k) // (L + k) for a, b in iv)
def cpsat_intervals(iv, L, k):
    m = cp_model.CpModel(); ub = sum((b - a) // L for a, b in iv); lits, ivs = [], []
    for a, b in iv:
        prev = None
        for _ in range((b - a) // L):
            p = m.NewBoolVar(""); s = m.NewIntVar(a, b - L, "")
            # kerf is consumed between neighbours only: pad each window by k but let the pad overrun the interval end
            ivs.append(m.NewOptionalFixedSizeIntervalVar(s, L + k, p, "")); lits.append(p)
            if prev is not None: m.AddImplication(p, prev)
            prev = p
    # separate intervals never compete: enforce per interval
    i = 0
    for a, b in iv:
        c = (b - a) // L; m.AddNoOverlap(ivs[i:i + c]); i += c
    m.Maximize(sum(lits)); s = solver(); st = s.Solve(m); assert st == cp_model.OPTIMAL; return int(round(s.ObjectiveValue()))
# ---- B: arbitrary set of allowed start positions on a 1 mm grid
def dp_starts(ok, L, k):
    n = len(ok); best = [0] * (n + L + k + 1)
    for s in range(n - 1, -1, -1): best[s] = max(best[s + 1], (1 + best[min(s + L + k, n)]) if ok[s] else 0)
    return best[0]
def greedy_starts(ok, L, k):
    s = c = 0; last = []
    while s < len(ok):
        if ok[s]: c += 1; last.append(s); s += L + k
        else: s += 1
    return c, last
def cpsat_starts(ok, L, k):
    m = cp_model.CpModel(); v = {s: m.NewBoolVar("") for s in range(len(ok)) if ok[s]}
    for t in range(len(ok) + L + k):
        c = [v[s] for s in range(max(0, t - L - k + 1), t + 1) if s in v]
        if len(c) > 1: m.AddAtMostOne(c)
    m.Maximize(sum(v.values())); s = solver(); st = s.Solve(m); assert st == cp_model.OPTIMAL; return int(round(s.ObjectiveValue()))
rng = random.Random(20240611)
A = []
def addA(iv, L, k, note=""):
    c, o = closed(iv, L, k), cpsat_intervals(iv, L, k); assert c == o, (iv, L, k, c, o)
    A.append({"id": f"A{len(A)+1:02d}", "unit": "0.1 mm", "intervals": iv, "window": L, "kerf": k, "optimum": o, "note": note})
addA([[0, 1200]], 1200, 10, "exact fit, one window"); addA([[0, 1199]], 1200, 10, "one unit short"); addA([[0, 2410]], 1200, 10, "exact fit, two windows + one kerf")
addA([[0, 2409]], 1200, 10, "kerf does not fit"); addA([[0, 2400]], 1200, 0, "zero kerf"); addA([], 1200, 10, "no usable interval")
for _ in range(14):
    L = rng.choice([600, 650, 700, 1000, 1200]); k = rng.choice([0, 5, 8, 10, 15, 20]); iv = []; p = 0
    while p < 3000:
        p += rng.randint(20, 300); q = p + rng.randint(300, 2600)
        if q > 3200: break
        iv.append([p, q]); p = q
    addA(iv, L, k, "seeded")
B = []
for j in range(20):
    n = rng.choice([100, 150, 200, 250, 300]); L = rng.choice([25, 30, 40, 60, 70]); k = rng.choice([0, 1, 2, 3]); ok = [0] * n
    pos = 0
    while pos < n:
        run = rng.randint(3, 45); gap = rng.randint(2, 30)
        for s in range(pos, min(pos + run, n)):
            if s + L <= n: ok[s] = 1
        pos += run + gap
    d, c = dp_starts(ok, L, k), cpsat_starts(ok, L, k); g, lst = greedy_starts(ok, L, k); assert d == c == g
    B.append({"id": f"B{j+1:02d}", "unit": "mm", "length": n, "window": L, "kerf": k, "allowed_starts_rle": [[v, len(list(r))] for v, r in itertools.groupby(ok)], "optimum": c, "earliest_start_greedy": lst})
source = json.load(open(REFERENCE / "packings.json"))["source"]
json.dump({"source": source, "A_intervals": A, "B_allowed_starts": B}, open(OUT / "packings.json", "w"))
