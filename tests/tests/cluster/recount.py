"""Counts the tables of a dataset once more with Spark SQL, and prints counts.csv and exposure.csv."""

import sys

from pyspark.sql import SparkSession

COUNTS = """
    select open, naked, hidden, count(*) subsets, count_if(proper) proper,
        count_if(applied) applied,
        count(distinct case when proper then (puzzle, position) end) positions,
        count(distinct case when proper then puzzle end) puzzles
    from (select *, naked_proper or hidden_proper as proper from subsets)
    group by open, naked, hidden
"""

dataset = sys.argv[1]
spark = SparkSession.builder.config("spark.sql.shuffle.partitions", 2).getOrCreate()
for table in ("positions", "subsets"):
    spark.read.parquet(f"{dataset}/{table}").createOrReplaceTempView(table)

print("open,naked,hidden,subsets,proper,applied,positions,puzzles")
found = {row[:3]: row[3:] for row in map(tuple, spark.sql(COUNTS).collect())}
for shape in [(n, k, n - k) for n in range(2, 10) for k in range(1, n)]:
    print(*shape, *found.pop(shape, (0,) * 5), sep=",")
assert not found, found

print("open,houses")
houses = ", ".join(f"sum(houses_open_{n})" for n in range(2, 10))
for n, count in enumerate(spark.sql(f"select {houses} from positions").first(), start=2):
    print(n, count, sep=",")
spark.stop()
