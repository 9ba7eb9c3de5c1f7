#!/usr/bin/env python3
"""Kills every command that writes, at moments by chance, and looks at what is left.

    python3 examples/killed_writers.py --program target/release/quarterlight [--times 60] [--seed 1] [--picture ENDS.png]

Each command runs in a folder that holds the result of an earlier run, on an invented lot, and is killed (SIGKILL): one time in
three at any moment of its run, else at once or within 4 ms after the first new name appears in the folder. What is left must be the
old files or the new ones, to the byte (a report: of one run, or with its note that it is not); hidden files of a killed run may lie
beside them. After one kill in five the command runs once more and must succeed. The bench page is killed while four hands type into it: every
reading it said was kept must be in the lot, and `check` must read it; so it is with two pages of one lot, also where the lot's
files are of a day to come. Prints one line a command; fails if anything was lost. On Linux; packages beyond Python's own: none.
"""

import argparse
import http.client
import os
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

NOTE = "report-unfinished.txt"


def contents(folder):
    """Every file under a folder by name, hidden ones of a killed run apart."""
    named, hidden = {}, 0
    for path in sorted(Path(folder).rglob("*")):
        if path.is_file():
            if path.name.startswith("."):
                hidden += 1
            else:
                named[str(path.relative_to(folder))] = path.read_bytes()
    return named, hidden


def names(folder):
    found = set()
    for at, folders, files in os.walk(folder):
        found.update(os.path.join(at, f) for f in files + folders)
    return found


def small_lot(folder, size, tubes=1):
    """An invented lot of a few tubes of twelve widths each, cut and counted."""
    folder.mkdir()
    tubes = [f"S{n}" for n in range(1, tubes + 1)]
    (folder / "lot.toml").write_text("# an invented scenario\n[lot]\nname = \"small\"\n")
    (folder / "tubes.csv").write_text("tube,length_mm,weight_g\n" + "".join(f"{t},{170 + 7 * i},{24 + i}\n" for i, t in enumerate(tubes)))
    rows = [f"{t},diameter,{z},{deg},{size + 0.03 * ((i * 7 + z + deg) % 5):.2f}\n" for i, t in enumerate(tubes) for z in (30, 85, 140) for deg in (0, 45, 90, 135)]
    (folder / "readings.csv").write_text("tube,kind,z_mm,angle_deg,value_mm\n" + "".join(rows))
    (folder / "cuts.csv").write_text("tube,blanks\n" + "".join(f"{t},{2 + i % 4}\n" for i, t in enumerate(tubes)))


class Case:
    """A command that writes: `words(variant)` is what is typed, variant 0 or 1 give different results, or the same."""

    def __init__(self, name, words, begin=lambda folder: None, whole=False, onto_nothing=False):
        self.name, self.words, self.begin = name, words, begin
        # several files; in a folder without an earlier result
        self.whole, self.onto_nothing = whole, onto_nothing


def kill_once(program, case, folder, words, seconds, chance):
    """Runs a command and kills it; whether it was still running."""
    before = names(folder)
    child = subprocess.Popen([program, *words], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    begun, moment = time.monotonic(), chance.random()
    late = 0.004 * chance.random() if chance.random() < 0.5 else 0.0
    if chance.random() < 1 / 3:
        time.sleep(seconds * moment)
    else:
        while child.poll() is None and names(folder) == before and time.monotonic() - begun < 60:
            time.sleep(0.0002)
        time.sleep(late)
    alive = child.poll() is None
    child.kill()
    child.wait()
    return alive


def run(program, words, folder):
    return subprocess.run([program, *words], cwd=folder, capture_output=True, text=True)


def trial(program, case, times, chance):
    lost, killed, left = [], 0, 0
    with tempfile.TemporaryDirectory() as base:
        results = []
        for variant in (0, 1):
            folder = Path(base) / f"whole{variant}"
            folder.mkdir()
            case.begin(folder)
            begun = time.monotonic()
            done = run(program, case.words(variant), folder)
            seconds = time.monotonic() - begun
            if done.returncode > 1:
                sys.exit(f"error: {case.name}: {done.stderr}")
            results.append(contents(folder)[0])
        for i in range(times):
            folder = Path(base) / f"run{i}"
            if case.onto_nothing:
                folder.mkdir()
                case.begin(folder)
            else:
                shutil.copytree(Path(base) / "whole0", folder)
            old = contents(folder)[0]
            killed += kill_once(program, case, folder, case.words(1), seconds, chance)
            now, hidden = contents(folder)
            left += hidden > 0
            new = results[1]
            if case.whole:
                # several files: each is there whole or not at all, unless the note says that they are not of one run
                fine = now in (old, new) or any(n.endswith(NOTE) for n in now) or (case.onto_nothing and all(b in (new.get(n), old.get(n)) for n, b in now.items()))
            else:
                fine = now in (old, new)
            if not fine:
                differ = [n for n in set(now) | set(new) if now.get(n) not in (old.get(n), new.get(n))]
                lost.append(f"run {i}: neither old nor new: {sorted(differ) or sorted(set(now) ^ set(new))}")
            again = run(program, case.words(1), folder) if i % 5 == 0 or not fine else None
            if again and (again.returncode > 1 or (again.returncode == 1 and not case.onto_nothing)):
                lost.append(f"run {i}: the next run fails: {again.stderr.strip()[:300]}")
            shutil.rmtree(folder)
    return killed, left, lost


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Page:
    """A bench page of a lot, and who types into it."""

    def __init__(self, program, lot):
        self.port = free_port()
        words = [program, "bench", str(lot), "--port", str(self.port), "--draws", "20"]
        self.child = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.token = ""
        for _ in range(400):
            try:
                page = self.ask("GET", "/", None, {"Cookie": "bench-cautions=read"})[1]
                self.token = (re.findall(r'name="token" content="([^"]*)"', page) or [""])[0]
                break
            except OSError:
                time.sleep(0.02)

    def ask(self, method, path, body, heads):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        connection.request(method, path, body, heads)
        answer = connection.getresponse()
        return answer.status, answer.read().decode()

    def type(self, hand, readings, stop, kept):
        """Types readings at places of the hand's own; adds those that are said to be kept."""
        for k in range(readings):
            z, deg, value = f"{5 + 10 * (k // 12) + hand / 10:g}", f"{k % 12 * 15}", f"25.{30 + k % 40}"
            body = (
                f'{{"token":"{self.token}","tube":"S1","cells":[{{"kind":"diameter","z":{z},"angle":{deg},"set":"","rig":"",'
                f'"span":null,"text":"{value}","was":""}}]}}'
            )
            try:
                status, text = self.ask("POST", "/cells", body, {"Content-Type": "application/json"})
            except (OSError, http.client.HTTPException):
                return
            if status == 200 and '"kept"' in text:
                kept.append((z, deg, value))
            if stop.is_set():
                return

    def hands(self, numbers, readings, stop, kept):
        hands = [threading.Thread(target=self.type, args=(n, readings, stop, kept)) for n in numbers]
        [hand.start() for hand in hands]
        return hands

    def kill(self):
        alive = self.child.poll() is None
        self.child.kill()
        self.child.wait()
        return alive


def judged(program, lot, before, kept):
    """What is wrong with a lot into which these readings were typed."""
    wrong, now = [], contents(lot)[0]
    there = {tuple(row.split(",")[2:5]) for row in now.get("readings-bench.csv", b"").decode().splitlines()}
    gone = [reading for reading in kept if reading not in there]
    if gone:
        wrong.append(f"{len(gone)} of {len(kept)} readings said to be kept are not in the lot, such as {gone[0]}")
    if any(now.get(name) != old for name, old in before.items()):
        wrong.append("another file of the lot was changed")
    checked = run(program, ["check", str(lot)], lot.parent)
    if checked.returncode != 0:
        wrong.append(f"check: {(checked.stdout + checked.stderr).strip()[:300]}")
    return wrong


def bench_trial(program, times, chance):
    """A page killed while four hands type."""
    lost, killed, kept_all = [], 0, 0
    for i in range(times):
        with tempfile.TemporaryDirectory() as base:
            lot = Path(base) / "lot"
            small_lot(lot, 25.4)
            before = contents(lot)[0]
            page, kept, stop = Page(program, lot), [], threading.Event()
            hands = page.hands(range(4), 10_000, stop, kept)
            time.sleep(0.05 + 0.4 * chance.random())
            killed += page.kill()
            stop.set()
            [hand.join() for hand in hands]
            kept_all += len(kept)
            lost.extend(f"run {i}: {wrong}" for wrong in judged(program, lot, before, kept))
    return killed, kept_all, lost


def two_pages(program, ahead):
    """Two pages of one lot, two hands at each; with `ahead` the lot's files are of a day to come, as after a clock was set back."""
    with tempfile.TemporaryDirectory() as base:
        lot = Path(base) / "lot"
        small_lot(lot, 25.4)
        if ahead:
            later = time.time() + 1e8
            [os.utime(file, (later, later)) for file in lot.iterdir()]
        before, kept, stop = contents(lot)[0], [], threading.Event()
        pages = [Page(program, lot) for _ in range(2)]
        hands = [hand for i, page in enumerate(pages) for hand in page.hands([2 * i, 2 * i + 1], 60, stop, kept)]
        [hand.join() for hand in hands]
        [page.kill() for page in pages]
        return kept, judged(program, lot, before, kept)


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("--program", required=True)
    args.add_argument("--times", type=int, default=60, help="kills of each command")
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--picture", help="a picture of twelve sawn ends (example draw_ends), for `ends`")
    args.add_argument("--only", help="commands whose name holds this")
    args = args.parse_args()
    program, chance = str(Path(args.program).resolve()), random.Random(args.seed)
    shop = tempfile.TemporaryDirectory()
    small, other = Path(shop.name) / "small", Path(shop.name) / "other"
    small_lot(small, 25.4)
    small_lot(other, 24.9)
    grid, bars = str(small), str(other)

    def few(variant):
        return ["--draws", "20", "--seed", str(1 + variant), "--force"]

    def lot_here(folder):
        small_lot(folder / "lot", 25.4)

    def maker(folder):
        small_lot(folder / "lot", 25.4, tubes=5)
        (folder / "maker.toml").write_text('# of the shop\nnote = "kept"\n')

    def single(name, words):
        return Case(name, lambda v: [*words, *few(v)])

    cases = [
        single("forecast --out", ["forecast", grid, "--json", "--out", "f.json"]),
        single("split --out", ["split", grid, "--csv", "--out", "s.csv"]),
        single("split --jsonl --out", ["split", grid, "--jsonl", "--out", "s.jsonl"]),
        single("forecast --picture", ["forecast", grid, bars, "--picture", "lots.svg"]),
        single("learn --picture", ["learn", grid, "--picture", "got.pdf"]),
        Case("learn --keep", lambda v: ["learn", "lot", "--keep", "maker.toml", "--draws", "20", "--seed", str(1 + v)], maker),
        Case("fit --learn-population --keep", lambda v: ["fit", "lot", "--learn-population", "--keep"], lot_here, onto_nothing=True),
        Case("report", lambda v: ["report", grid, "--out", "rep", *few(v)], whole=True),
        Case("new", lambda v: ["new", "lot", "--tubes", "12", "--workbook"], whole=True, onto_nothing=True),
        Case("simulate", lambda v: ["simulate", "lot", "--tubes", "3"], whole=True, onto_nothing=True),
        Case("ends --scale-sheet", lambda v: ["ends", "--scale-sheet", "card.pdf", "--paper", ["a4", "letter"][v], "--force"]),
    ]
    if args.picture:
        picture, one = str(Path(args.picture).resolve()), "S1" + 11 * ",-"
        cases.append(Case("ends", lambda v: ["ends", picture, "--lot", "lot", "--tubes", one, "--force"], lot_here, whole=True, onto_nothing=True))
    bad = total = 0
    for case in cases:
        if args.only and args.only not in case.name:
            continue
        killed, left, lost = trial(program, case, args.times, chance)
        total += killed
        bad += len(lost)
        print(f"{case.name:32} {killed:4} killed of {args.times}, hidden files left {left}, wrong {len(lost)}", flush=True)
        for line in lost[:5]:
            print(f"    {line}", flush=True)
    if not args.only or args.only in "bench":
        killed, kept, lost = bench_trial(program, args.times, chance)
        total += killed
        bad += len(lost)
        print(f"{'bench':32} {killed:4} killed of {args.times}, {kept} readings kept, wrong {len(lost)}", flush=True)
        for line in lost[:5]:
            print(f"    {line}", flush=True)
    for ahead in (False, True):
        if not args.only or args.only in "two pages":
            kept, wrong = two_pages(program, ahead)
            bad += len(wrong) + (len(kept) == 0)
            print(f"{'two pages, clock set back' if ahead else 'two pages of one lot':32} {len(kept)} readings kept, wrong {len(wrong)}")
            for line in wrong:
                print(f"    {line}")
    print(f"{total} killed while running, {bad} wrong")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
