"""How often each shape of subset occurs: rates per house and shares of puzzles, with polars."""

import sys
from pathlib import Path
from statistics import NormalDist

import polars as pl

TABLES = Path(__file__).resolve().parent.parent
SHAPE = ["open", "naked"]
OPENS = range(2, 10)
ROW = (
    "{open:4} {naked:5} {houses:7} {proper:7} {rate:9.2f} {puzzles:7} "
    "{share:7.5f} {low:7.5f} {high:7.5f}"
)


def check(name, differing):
    if len(differing):
        sys.exit(f"{name} differs from what this script finds:\n{differing}")


def rates(subsets, positions):
    """One row per shape: the houses examined, the proper subsets and the puzzles with any."""
    proper = subsets.filter(pl.col("naked_proper") | pl.col("hidden_proper"))
    found = proper.group_by(SHAPE).agg(proper=pl.len(), puzzles=pl.col("puzzle").n_unique())
    houses = pl.DataFrame({
        "open": list(OPENS),
        "houses": [positions[f"houses_open_{n}"].cast(pl.Int64).sum() for n in OPENS],
    })
    shapes = pl.DataFrame([(n, k) for n in OPENS for k in range(1, n)], SHAPE, orient="row")
    return (
        shapes.join(houses, on="open")
        .join(found.with_columns(pl.col(SHAPE).cast(pl.Int64)), on=SHAPE, how="left")
        .fill_null(0)
        .with_columns(rate=1000 * pl.col("proper") / pl.col("houses"))
        .sort(SHAPE)
    )


def with_wilson(table, n):
    """Adds the share of n puzzles and Wilson's 95 % interval; the puzzle is the unit."""
    z, p = NormalDist().inv_cdf(0.975), pl.col("puzzles") / n
    half = z * (p * (1 - p) / n + z * z / (4 * n * n)).sqrt()
    centre, scale = p + z * z / (2 * n), 1 + z * z / n
    return table.with_columns(share=p, low=(centre - half) / scale, high=(centre + half) / scale)


subsets, positions, puzzles = (
    pl.read_parquet(TABLES / f"{name}.parquet") for name in ["subsets", "positions", "puzzles"]
)
table = with_wilson(rates(subsets, positions), len(puzzles))

counts = table.join(pl.read_csv(TABLES / "counts.csv"), on=SHAPE, how="full", suffix="_csv")
same = (pl.col("proper") == pl.col("proper_csv")) & (pl.col("puzzles") == pl.col("puzzles_csv"))
check("counts.csv", counts.filter(~same.fill_null(False)))
exposure = table.join(pl.read_csv(TABLES / "exposure.csv"), on="open", how="full", suffix="_csv")
check("exposure.csv", exposure.filter(pl.col("houses").ne_missing(pl.col("houses_csv"))))
wilson = pl.read_csv(TABLES / "shares.csv").filter(pl.col("method") == "Wilson")
shares = wilson.join(table, on=SHAPE, how="left", suffix="_own")
gaps = [(pl.col(c) - pl.col(f"{c}_own")).abs() for c in ["share", "low", "high"]]
near = pl.all_horizontal(gap < 1e-9 for gap in gaps)
check("shares.csv", shares.filter(~near.fill_null(False)))

print("open naked  houses  proper per 1,000 puzzles   share     low    high")
for row in table.filter(pl.col("proper") > 0).iter_rows(named=True):
    print(ROW.format(**row))
print(f"{len(table)} shapes agree with counts.csv, {len(shares)} Wilson intervals with shares.csv")
