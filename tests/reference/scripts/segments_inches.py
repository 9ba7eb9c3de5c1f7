"""Circle segments, sagittas and inch fractions, exact. Writes segments_unit_radius.csv, sagitta_examples.json and
inch_fractions.csv."""
import csv, json, mpmath as mp
from fractions import Fraction
from place import OUT
mp.mp.dps = 30
hb = {60: (1.0472, .13397, 1.00000, .0906), 90: (1.5708, .29289, 1.41421, .2854), 120: (2.0944, .50000, 1.73205, .6142)}   # handbook-style rounding, recalled
with open(OUT / "segments_unit_radius.csv", "w", newline="") as f:
    w = csv.writer(f); w.writerow(["angle_deg", "arc", "height", "chord", "segment_area", "sagitta_over_chord"])
    for d in [1, 5, 10, 15, 20, 30, 45, 60, 72, 90, 100, 108, 120, 135, 150, 170, 180]:
        a = mp.mpf(d) * mp.pi / 180; arc, h, c, A = a, 1 - mp.cos(a / 2), 2 * mp.sin(a / 2), (a - mp.sin(a)) / 2
        w.writerow([d] + [mp.nstr(v, 18) for v in (arc, h, c, A, h / c)])
        if d in hb:
            for got, ref, tol in zip((arc, h, c, A), hb[d], (6e-5, 6e-6, 6e-6, 6e-5)): assert abs(got - ref) < tol, (d, got, ref)
ex = []
def seg(c=None, h=None, r=None, name="", src="", pub=None):
    c, h, r = [None if v is None else mp.mpf(str(v)) for v in (c, h, r)]
    if r is None: r = h / 2 + c * c / (8 * h)
    if h is None: h = c * c / 4 / (r + mp.sqrt(r * r - c * c / 4))
    if c is None: c = 2 * mp.sqrt(2 * r * h - h * h)
    al = 2 * mp.asin(c / 2 / r) if h <= r else 2 * mp.pi - 2 * mp.asin(c / 2 / r)
    o = {"name": name, "source": src, "chord": mp.nstr(c, 18), "height": mp.nstr(h, 18), "radius": mp.nstr(r, 18), "angle_deg": mp.nstr(al * 180 / mp.pi, 18), "arc": mp.nstr(r * al, 18), "segment_area": mp.nstr(r * r * (al - mp.sin(al)) / 2, 18), "parabolic_sagitta_c2_over_8r": mp.nstr(c * c / 8 / r, 18)}
    for k, v in (pub or {}).items(): assert abs(mp.mpf(o[k]) - v) <= 6e-8 * abs(v) + 6e-9, (k, o[k], v)
    if pub: o["published"] = pub
    ex.append(o); print(name, o)
seg(c=21, h=6, name="plate fragment", src="MatheAss help, circular sections, application example (read)", pub={"radius": 12.1875, "angle_deg": 118.97953, "arc": 25.308373, "segment_area": 89.254148})
seg(c=8, h=2, name="chord-to-radius tutorial", src="worked example of R = H/2 + C^2/8H, read: 5; source not recorded", pub={"radius": 5})
seg(c=12, r=10, name="arc height tutorial", src="worked example of an arc height, read: s = 2 (and 18 for the far arc); source not recorded", pub={"height": 2})
for L, b in ((100, .1), (120, .25), (200, .5), (300, 1), (300, 3)): seg(c=L, h=b, name=f"bow {b} over {L}", src="own")
json.dump({"topic": "circle segments and sagitta", "examples": ex}, open(OUT / "sagitta_examples.json", "w"), indent=1)
with open(OUT / "inch_fractions.csv", "w", newline="") as f:
    w = csv.writer(f); w.writerow(["fraction_in", "decimal_in_exact", "mm_exact"])
    for k in range(1, 65):
        q = Fraction(k, 64); mm = q * Fraction(254, 10)
        def dec(z):
            s = mp.nstr(mp.mpf(z.numerator) / z.denominator, 20); assert Fraction(s) == z; return s
        w.writerow([f"{q.numerator}/{q.denominator}" if q.denominator > 1 else str(q), dec(q), dec(mm)])
