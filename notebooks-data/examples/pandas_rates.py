"""How often each shape of subset occurs: rates per house and shares of puzzles, with pandas."""

import sys
from pathlib import Path
from statistics import NormalDist

import pandas as pd

TABLES = Path(__file__).resolve().parent.parent
SHAPE = ["open", "naked"]
OPENS = range(2, 10)
ROW = (
    "{open:4} {naked:5} {houses:7} {proper:7} {rate:9.2f} {puzzles:7} "
    "{share:7.5f} {low:7.5f} {high:7.5f}"
)


def check(name, differing):
    if len(differing):
        sys.exit(f"{name} differs from what this script finds:\n{differing.to_string()}")


def rates(subsets, positions):
    """One row per shape: the houses examined, the proper subsets and the puzzles with any."""
    proper = subsets[subsets["naked_proper"] | subsets["hidden_proper"]]
    found = proper.groupby(SHAPE)["puzzle"].agg(proper="size", puzzles="nunique")
    houses = {n: int(positions[f"houses_open_{n}"].sum()) for n in OPENS}
    shapes = pd.MultiIndex.from_tuples([(n, k) for n in OPENS for k in range(1, n)], names=SHAPE)
    table = found.reindex(shapes, fill_value=0).reset_index()
    table["houses"] = table["open"].map(houses)
    table["rate"] = 1000 * table["proper"] / table["houses"]
    return table


def with_wilson(table, n):
    """Adds the share of n puzzles and Wilson's 95 % interval; the puzzle is the unit."""
    z, p = NormalDist().inv_cdf(0.975), table["puzzles"] / n
    half = z * (p * (1 - p) / n + z * z / (4 * n * n)) ** 0.5
    centre, scale = p + z * z / (2 * n), 1 + z * z / n
    return table.assign(share=p, low=(centre - half) / scale, high=(centre + half) / scale)


subsets, positions, puzzles = (
    pd.read_parquet(TABLES / f"{name}.parquet") for name in ["subsets", "positions", "puzzles"]
)
table = with_wilson(rates(subsets, positions), len(puzzles))

both = {"how": "outer", "suffixes": ("", "_csv")}
counts = table.merge(pd.read_csv(TABLES / "counts.csv"), on=SHAPE, **both)
same = (counts["proper"] == counts["proper_csv"]) & (counts["puzzles"] == counts["puzzles_csv"])
check("counts.csv", counts[~same])
exposure = table.merge(pd.read_csv(TABLES / "exposure.csv"), on="open", **both)
check("exposure.csv", exposure[exposure["houses"] != exposure["houses_csv"]])
wilson = pd.read_csv(TABLES / "shares.csv").query("method == 'Wilson'")
shares = wilson.merge(table, on=SHAPE, how="left", suffixes=("", "_own"))
gaps = pd.concat([(shares[c] - shares[f"{c}_own"]).abs() for c in ["share", "low", "high"]], axis=1)
check("shares.csv", shares[~(gaps < 1e-9).all(axis=1)])

print("open naked  houses  proper per 1,000 puzzles   share     low    high")
for row in table[table["proper"] > 0].to_dict("records"):
    print(ROW.format(**row))
print(f"{len(table)} shapes agree with counts.csv, {len(shares)} Wilson intervals with shares.csv")
