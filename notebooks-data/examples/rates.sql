-- How often each shape of subset occurs: rates per house and shares of puzzles.
-- For DuckDB, in the folder of the tables: duckdb < examples/rates.sql
-- Each row also says whether it agrees with counts.csv, exposure.csv and shares.csv.

WITH shapes AS (
    SELECT n.range AS "open", k.range AS naked
    FROM range(2, 10) AS n, range(1, 9) AS k
    WHERE k.range < n.range
), found AS (
    SELECT "open", naked, count(*) AS proper, count(DISTINCT puzzle) AS puzzles
    FROM 'subsets.parquet'
    WHERE naked_proper OR hidden_proper
    GROUP BY ALL
), exposure AS (
    UNPIVOT (SELECT sum(COLUMNS('houses_open_.*')) FROM 'positions.parquet')
    ON * INTO NAME column_name VALUE houses
), rates AS (
    SELECT "open", naked, houses::BIGINT AS houses, coalesce(proper, 0) AS proper,
        1000 * coalesce(proper, 0) / houses AS rate, coalesce(puzzles, 0) AS puzzles
    FROM shapes
    JOIN exposure ON column_name = 'houses_open_' || "open"
    LEFT JOIN found USING ("open", naked)
), shares AS (
    -- The puzzle is the unit; z is the 97.5 % quantile of the normal distribution.
    SELECT *, puzzles / n AS share, z * sqrt(share * (1 - share) / n + z * z / (4 * n * n)) AS half,
        greatest(0, (share + z * z / (2 * n) - half) / (1 + z * z / n)) AS low,
        (share + z * z / (2 * n) + half) / (1 + z * z / n) AS high
    FROM rates, (SELECT count(*)::DOUBLE AS n, 1.959963984540054 AS z FROM 'puzzles.parquet')
)
SELECT coalesce(own."open", c."open") AS "open", coalesce(own.naked, c.naked) AS naked, own.houses,
    own.proper, own.rate, own.puzzles, own.share, own.low, own.high,
    coalesce(own.proper = c.proper AND own.puzzles = c.puzzles, false) AS as_in_counts,
    coalesce(own.houses = e.houses, false) AS as_in_exposure,
    -- Empty where shares.csv has another kind of interval.
    CASE WHEN s.method = 'Wilson' THEN coalesce(abs(own.share - s.share) < 1e-9
        AND abs(own.low - s.low) < 1e-9 AND abs(own.high - s.high) < 1e-9, false)
    END AS as_in_shares
FROM shares AS own
FULL JOIN 'counts.csv' AS c ON own."open" = c."open" AND own.naked = c.naked
LEFT JOIN 'exposure.csv' AS e ON own."open" = e."open"
LEFT JOIN 'shares.csv' AS s ON own."open" = s."open" AND own.naked = s.naked
ORDER BY ALL;
