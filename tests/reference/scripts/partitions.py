"""Sizes divided into piles: least spread and least largest pile of the listed cases by exhaustive dynamic programme over the sorted
sums of all divisions. The same optima were proved by CP-SAT. Sizes marked "seeded" are our own, seed 20240611. Writes
partitions.json."""
import json
from place import OUT
CASES = [
    ([4, 5, 6, 7, 8], 2, "textbook two-pile example: optimum 15/15, LPT gives 17/13"),
    ([3, 3, 2, 2, 2], 2, "Graham 1969 tight LPT family, m=2: optimum 6, LPT 7"),
    ([5, 5, 4, 4, 3, 3, 3], 3, "Graham 1969 tight LPT family, m=3: optimum 9, LPT 11"),
    ([7, 7, 6, 6, 5, 5, 4, 4, 4], 4, "Graham 1969 tight LPT family, m=4: optimum 12, LPT 15"),
    ([1, 1, 1, 1], 4, "all equal"),
    ([9, 1, 1, 1], 4, "one dominant item"),
    ([165, 76, 370, 362, 45, 333, 340, 228], 2, "seeded"),
    ([190, 109, 82, 274, 107, 21, 190, 29, 327, 203], 2, "seeded"),
    ([335, 257, 112, 64, 239, 310, 354, 30, 110, 132, 350, 254], 2, "seeded"),
    ([33, 202, 231, 331, 29, 99, 315, 186], 3, "seeded"),
    ([209, 72, 22, 23, 302, 108, 318, 366, 85, 89], 3, "seeded"),
    ([358, 29, 323, 305, 121, 385, 169, 392, 162, 215, 157, 70], 3, "seeded"),
    ([166, 397, 303, 335, 347, 322, 303, 172], 4, "seeded"),
    ([149, 246, 49, 140, 25, 298, 311, 100, 207, 210], 4, "seeded"),
    ([137, 283, 299, 185, 138, 195, 280, 385, 272, 335, 71, 230], 4, "seeded"),
    ([61, 250, 308, 52, 276, 85, 62, 111], 4, "seeded"),
    ([206, 183, 178, 127, 156, 52, 40, 142, 303, 29], 4, "seeded"),
    ([170, 332, 23, 390, 104, 268, 396, 85, 248, 224, 343, 104], 4, "seeded"),
    ([189, 70, 168, 343, 330, 320, 169, 263], 4, "seeded"),
    ([224, 315, 320, 88, 374, 145, 330, 263, 111, 317], 4, "seeded"),
    ([382, 249, 349, 350, 230, 197, 195, 237, 288, 343, 190, 103], 4, "seeded"),
    ([45, 94, 245, 64, 159, 146, 209, 294], 4, "seeded"),
    ([286, 192, 34, 115, 99, 136, 119, 166, 206, 183], 4, "seeded"),
    ([98, 40, 225, 393, 277, 355, 375, 206, 203, 87, 388, 89], 4, "seeded"),
    ([263, 317, 20, 144, 104, 370, 74, 364, 166, 25], 5, "seeded"),
]
def all_sums(items, piles):
    sums = {(0,) * piles}
    for x in items:
        sums = {tuple(sorted(s[:i] + (s[i] + x,) + s[i + 1:])) for s in sums for i in range(piles)}
    return sums
cases = []
for n, (items, piles, note) in enumerate(CASES):
    sums = all_sums(items, piles)
    cases.append({"id": f"C{n + 1:02d}", "sizes": items, "piles": piles, "least_spread": min(s[-1] - s[0] for s in sums),
                  "least_largest": min(s[-1] for s in sums), "note": note})
rows = ",\n".join("  " + json.dumps(c) for c in cases)
(OUT / "partitions.json").write_text('{\n "topic": "divisions into piles",\n "cases": [\n' + rows + "\n ]\n}\n")
