#!/bin/sh
# Makes all tables from nothing: make.sh [FOLDER], by default the folder of this script.
# Needs the command tallyhouse, or its path in TALLYHOUSE. Takes a minute or two; the same version of
# the command makes the same bytes.
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
folder="$(cd "${1:-$here}" && pwd)"
tallyhouse="${TALLYHOUSE:-tallyhouse}"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cd "$work"

"$tallyhouse" --quiet make --count 20000 --seed 7 --out puzzles.txt
# One part holds all puzzles, so that each table is one file.
"$tallyhouse" --quiet census puzzles.txt --part-size 20000 --out census > printed.txt
"$tallyhouse" --quiet describe puzzles.txt --out description > printed.txt
"$tallyhouse" --quiet make --method splitting --count 200 --seed 7 --out weighted.txt
"$tallyhouse" --quiet census weighted.txt --part-size 20000 --out weighted > printed.txt
cat > recipe.toml <<'END'
name = "notebooks"
title = "Data for notebooks"

[[collection]]
name = "puzzles"
title = "Minimal puzzles by random deletion"
files = ["puzzles.txt"]

[charts]
kinds = []

[effort]
shapes = []
END
"$tallyhouse" --quiet study recipe.toml --out study > printed.txt

for table in puzzles positions subsets; do
    cp "census/$table/part-00000000.parquet" "$folder/$table.parquet"
done
cp census/counts.csv census/exposure.csv census/rates.csv census/shares.csv description/clues.csv "$folder"
cp weighted/shares.csv "$folder/weighted-shares.csv"
cp study/data/occurrence-puzzles/looks.csv "$folder"
cp study/data/effort/effort.csv "$folder/sides.csv"
