#!/usr/bin/env python3
"""Plans lots on the workers of a Dask cluster and sums up what they give.

    python3 examples/many_machines.py --program target/release/quarterlight --out OUT LOT...

Each lot, or each of --parts parts of it, is a task of its own: one run of `split --jsonl` on one thread, which writes a file of
records into OUT. One run of `forecast --from` sums them up and prints that. A lot teaches its own scales from all its files, so
parts of a lot may be planned anywhere as long as those files are there: every worker must see the lots and OUT under the same
names (a shared folder). Without --scheduler two workers are started on this machine.

--check plans all of it again with one process, without Dask, and fails unless both sums are the same to the byte.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from dask.distributed import Client, LocalCluster


def planned(program, lot, part, parts, out, options):
    """Writes the records of one part of a lot; tells the file and whether something in the lot's files is to be mended."""
    # a task that is run again, because its worker was lost, writes its file anew
    words = [program, "split", lot, "--jsonl", "--part", f"{part}/{parts}", "--out", out, "--force", *options]
    done = subprocess.run(words, capture_output=True, text=True, env={**os.environ, "RAYON_NUM_THREADS": "1"})
    # 1 with a file: all that can be planned is in it, and some rows of the lot's files are to be mended
    if done.returncode not in (0, 1) or not Path(out).exists():
        raise RuntimeError(f"{lot}, part {part}: {done.stderr.strip()}")
    return out, done.returncode == 1


def summed_up(program, files, face):
    """What the records of these files come to, as the program prints it."""
    return subprocess.run([program, "forecast", *face, "--from", *files], check=True, capture_output=True).stdout


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("lots", nargs="+", metavar="LOT", help="folders of lots that are judged by one target")
    args.add_argument("--program", default="quarterlight", help="the program as workers find it")
    args.add_argument("--out", required=True, metavar="DIR", help="where records go; must be new or empty")
    args.add_argument("--parts", type=int, default=1, help="parts that each lot is planned in")
    args.add_argument("--scheduler", metavar="ADDRESS", help="of a cluster that runs; else two workers are started here")
    args.add_argument("--draws", default="200", help="draws a tube")
    args.add_argument("--json", action="store_true", help="print the sum as JSON")
    args.add_argument("--csv", action="store_true", help="print the sum as a table, a row for each lot")
    args.add_argument("--check", action="store_true", help="compare with one process")
    args = args.parse_args()
    out = Path(args.out).resolve()
    out.mkdir(parents=True, exist_ok=True)
    if any(out.iterdir()):
        sys.exit(f"error: {out} is not empty\n  hint: records of another run would be added up with these: choose another folder")
    program = str(Path(args.program).resolve()) if os.sep in args.program else args.program
    lots = [str(Path(lot).resolve()) for lot in args.lots]
    face = [flag for flag, asked in (("--json", args.json), ("--csv", args.csv)) if asked]
    options = ["--draws", args.draws]

    tasks = [(lot, part, str(out / f"{i:06}-{part}.jsonl")) for i, lot in enumerate(lots) for part in range(1, args.parts + 1)]
    cluster = None if args.scheduler else LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with Client(args.scheduler or cluster) as client:
        jobs = [
            client.submit(planned, program, lot, part, args.parts, file, options, key=f"records-{Path(file).stem}", pure=False)
            for lot, part, file in tasks
        ]
        done = client.gather(jobs)
    if cluster:
        cluster.close()
    for (lot, _, _), (_, mend) in zip(tasks, done):
        if mend:
            print(f"note: {lot}: something in its files is to be mended: `check` lists it", file=sys.stderr)
    files = [file for file, _ in done]
    total = summed_up(program, files, face)

    if args.check:
        with tempfile.TemporaryDirectory() as alone:
            again = []
            for i, lot in enumerate(lots):
                file = str(Path(alone) / f"{i}.jsonl")
                planned(program, lot, 1, 1, file, options)
                again.append(file)
            for check in ([], ["--json"], ["--csv"]):
                # backwards as well: the order of files must not matter
                many = summed_up(program, files[::-1], check)
                if not many == summed_up(program, files, check) == summed_up(program, again, check):
                    sys.exit(f"error: the sums differ {check}")
        print(f"the same to the byte: {len(files)} files of two workers, and one process", file=sys.stderr)
    sys.stdout.buffer.write(total)


if __name__ == "__main__":
    main()
