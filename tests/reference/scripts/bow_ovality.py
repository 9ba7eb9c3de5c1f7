"""Ovality and bow by the definitions of several standards. Writes bow_ovality.json."""
import json, math
from place import OUT
D = []
def ov(dmax, dmin, nom, **k):
    mean = (dmax + dmin) / 2
    return {"dmax": dmax, "dmin": dmin, "nominal": nom, "out_of_roundness_abs": dmax - dmin, "pct_of_nominal": 100 * (dmax - dmin) / nom, "pct_of_mean": 100 * (dmax - dmin) / mean, "half_range_ratio_pct_(dmax-dmin)/(dmax+dmin)": 100 * (dmax - dmin) / (dmax + dmin), "pct_of_dmax": 100 * (dmax - dmin) / dmax, "dmin_over_dmax": dmin / dmax, **k}
defs = [
 {"id": "abs", "formula": "Dmax - Dmin", "where": "API 5L / ISO 3126 style out-of-roundness (absolute)", "status": "definition for API/DNV read second-hand, source not recorded; ISO 3126 from memory"},
 {"id": "nom", "formula": "100 (Dmax-Dmin)/Dnom", "where": "DNV-OS-F101 f0; ASME B31.3 bends (limit 8 % internal / 3 % external pressure); EN 1993-1-6 Ur", "status": "DNV = 2 x API RP 1111 ovality: read; Ur formula and limits 0.007/0.010/0.015 (d >= 1.25 m, class A/B/C): read in published tolerance code; 8 % quoted on two pages, 3 % from memory"},
 {"id": "sum", "formula": "100 (Dmax-Dmin)/(Dmax+Dmin)", "where": "API RP 1111 4.3.2 ovality; ISO 2531 ductile iron pipe out-of-roundness", "status": "read second-hand, source not recorded"},
 {"id": "mean", "formula": "200 (Dmax-Dmin)/(Dmax+Dmin)", "where": "EN 13445 style u; ISO 19624 bamboo culm ovality", "status": "from memory"},
 {"id": "dmax", "formula": "100 (Dmax-Dmin)/Dmax", "where": "ISO 19474:2018 round timber ovality (difference in cm or percent of the greatest diameter)", "status": "read in an excerpt of the standard"},
 {"id": "a999", "formula": "Dmax-Dmin <= 1.5 % of specified OD for thin wall", "where": "ASTM A999", "status": "read (quoted)"}]
ex = [ov(20.5, 19.8, 20.0, unit="in", published={"pct_of_nominal": 3.5}, source="worked example of pipe ovality, read; source not recorded"), ov(10.2, 9.8, 10.0, unit="in", published={"pct_of_nominal": 4.0}, source="worked example of pipe ovality, read; source not recorded"), ov(25.6, 24.8, 25.0, unit="mm", source="own"), ov(25.0, 25.0, 25.0, unit="mm", source="own")]
for e in ex:
    for k, v in e.get("published", {}).items(): assert abs(e[k] - v) < 1e-9
    # DNV value is twice the API value when the nominal equals the mean
# tape (perimeter) diameter of an ellipse for comparison
def perim(a, b):
    import mpmath as mp; mp.mp.dps = 30; return 4 * a * mp.ellipe(1 - (mp.mpf(b) / a) ** 2)
import mpmath as mp
tape = []
for a, b in ((12.8, 12.4), (13, 12), (12.5, 12.5), (14, 11)):
    P = perim(mp.mpf(a), mp.mpf(b)); h = mp.mpf(a - b) ** 2 / mp.mpf(a + b) ** 2
    ram = mp.pi * (a + b) * (1 + 3 * h / (10 + mp.sqrt(4 - 3 * h)))
    tape.append({"a": a, "b": b, "perimeter": mp.nstr(P, 18), "tape_diameter": mp.nstr(P / mp.pi, 18), "mean_caliper_over_all_directions": mp.nstr(P / mp.pi, 18), "area_diameter_2sqrt(ab)": mp.nstr(2 * mp.sqrt(mp.mpf(a) * b), 18), "arith_mean_dmax_dmin": a + b, "ramanujan2_minus_exact": mp.nstr(ram - P, 5)})
# caliper (Feret) width of an ellipse at angle t: 2 sqrt(a^2 cos^2 + b^2 sin^2)
feret = [{"a": 13, "b": 12, "deg": t, "width": 2 * math.hypot(13 * math.cos(math.radians(t)), 12 * math.sin(math.radians(t))), "diameter_through_centre": 2 * 13 * 12 / math.hypot(12 * math.cos(math.radians(t)), 13 * math.sin(math.radians(t)))} for t in (0, 15, 30, 45, 60, 75, 90)]
bow = [
 {"id": "EN1310_bow", "text": "sawn timber bow/spring/cup: greatest deviation from a straight line, bow and spring over a representative 2 m length, in mm", "status": "EN 1310:1997 / EN 1309-3:2018 scope read, 2 m base from memory"},
 {"id": "ISO19474_sweep", "formula": "simple sweep = f / L, f = greatest distance of the concave side (or concave centre line) from the straight line joining the end centres, cm; L length of that line, m -> cm per m; compound sweep: per segment", "status": "read in an excerpt of ISO 19474:2018 round timber"},
 {"id": "EN1993_1_6_or_EN1090", "text": "member out-of-straightness L/750 .. L/1000", "status": "from memory"},
 {"id": "ISO19624_bow", "formula": "b = bow height / chord length of the piece", "status": "existence of a geometric-properties clause (6.2.3) read; formula from memory"}]
bex = [{"name": "12 cm over 4 m log", "f_cm": 12, "L_m": 4, "sweep_cm_per_m": 3.0}, {"name": "cane tube 0.5 mm over 200 mm", "f_mm": .5, "L_mm": 200, "ratio": .0025, "cm_per_m": .25, "L_over": 400.0}]
json.dump({"topic": "ovality and bow definitions", "ovality_definitions": defs, "ovality_examples": ex, "ellipse_tape_vs_caliper": tape, "ellipse_width_at_angle": feret, "bow_definitions": bow, "bow_examples": bex}, open(OUT / "bow_ovality.json", "w"), indent=1)
print(json.dumps(tape, indent=0)[:600])
