"""How often each shape of subset occurs: rates per house and shares of puzzles, with DuckDB.

The query is rates.sql; this script runs it, checks its verdicts and prints the table.
"""

import os
import sys
from pathlib import Path

import duckdb

EXAMPLES = Path(__file__).resolve().parent
ROW = (
    "{open:4} {naked:5} {houses:7} {proper:7} {rate:9.2f} {puzzles:7} "
    "{share:7.5f} {low:7.5f} {high:7.5f}"
)


def check(name, differing):
    if differing:
        sys.exit(f"{name} differs from what this script finds:\n" + "\n".join(map(str, differing)))


os.chdir(EXAMPLES.parent)
query = duckdb.sql((EXAMPLES / "rates.sql").read_text(encoding="utf-8"))
table = [dict(zip(query.columns, row)) for row in query.fetchall()]

for name in ["counts", "exposure", "shares"]:
    check(f"{name}.csv", [row for row in table if row[f"as_in_{name}"] is False])

print("open naked  houses  proper per 1,000 puzzles   share     low    high")
for row in table:
    if row["proper"] > 0:
        print(ROW.format(**row))
intervals = sum(row["as_in_shares"] is True for row in table)
print(f"{len(table)} shapes agree with counts.csv, {intervals} Wilson intervals with shares.csv")
