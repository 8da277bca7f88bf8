"""Scans the parts of a census under Spark:

    spark-submit --files PATH/tallyhouse scan.py DIR A..B

`tallyhouse cluster --help` says what that needs.
"""

import argparse
import ctypes
import json
import os
import signal
import subprocess

import pyarrow as pa
from pyspark import SparkFiles, TaskContext
from pyspark.sql import SparkSession

# What each task reports: parts asked for, done now, whole already, and the rows of all of them.
REPORT = ("parts", "done", "skipped", "rows")


def parts_of(text):
    first, last = map(int, text.split(".."))
    if not 0 <= first <= last:
        raise ValueError(text)
    return range(first, last + 1)


def arguments():
    parser = argparse.ArgumentParser(description="Scan the parts of a census under Spark.")
    parser.add_argument("out", metavar="DIR", type=os.path.abspath, help="folder with the plan")
    parser.add_argument("parts", metavar="A..B", type=parts_of, help="parts, as in 0..11")
    parser.add_argument("--tasks", type=int, default=1000, help="at most so many tasks [1000]")
    return parser.parse_args()


def scanner(out, parts, tasks):
    """Returns what a task does: its share of the parts, by one run of tallyhouse."""

    def scan(batches):
        worker, libc = os.getpid(), ctypes.CDLL(None)

        def end_with_worker():
            set_parent_death_signal = 1  # PR_SET_PDEATHSIG, Linux alone
            libc.prctl(set_parent_death_signal, signal.SIGKILL)
            if os.getppid() != worker:
                os._exit(1)

        for batch in batches:
            for task in batch.column("id").to_pylist():
                share = parts[len(parts) * task // tasks : len(parts) * (task + 1) // tasks]
                command = [SparkFiles.get("tallyhouse"), "census", "--out", out, "--quiet"]
                command += ["--parts", f"{share[0]}..{share[-1]}"]
                command += ["--threads", str(TaskContext.get().cpus())]
                ran = subprocess.run(
                    command,
                    stdin=subprocess.DEVNULL,
                    capture_output=True,
                    text=True,
                    preexec_fn=end_with_worker,
                )
                if ran.returncode != 0:
                    raise RuntimeError(f"{command}: exit code {ran.returncode}: {ran.stderr}")
                report = json.loads(ran.stdout)
                types = pa.schema([(name, pa.int64()) for name in REPORT])
                yield pa.RecordBatch.from_pylist([report], schema=types)

    return scan


def main():
    asked = arguments()
    tasks = max(1, min(asked.tasks, len(asked.parts)))
    spark = SparkSession.builder.appName(f"census {asked.out}").getOrCreate()
    types = ", ".join(f"{name} long" for name in REPORT)
    scan = scanner(asked.out, asked.parts, tasks)
    # A partition for each task, with the number of the task as its only row.
    reports = spark.range(0, tasks, 1, tasks).mapInArrow(scan, types).collect()
    print(json.dumps({name: sum(report[name] for report in reports) for name in REPORT}))
    spark.stop()


if __name__ == "__main__":
    main()
