#!/usr/bin/env bash
# Makes the first inputs of every target: ./seeds.sh PROGRAM, with the built tallyhouse as PROGRAM.
set -euo pipefail
program="$(realpath "${1:?usage: ./seeds.sh PROGRAM}")"
here="$(cd "$(dirname "$0")" && pwd)"
corpus="$here/corpus"
mkdir -p "$corpus"/{lines,grids,table,compressed,rulebook,claims,reader,recipe,manifest,parquet}
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cd "$work"
cp "$here/seeds/puzzles.txt" puzzles.txt

head -n 4 puzzles.txt > "$corpus/lines/plain"
{ echo '# with labels'; sed -n '5,7s/$/ weight=2 family=3 a label/p' puzzles.txt; } > "$corpus/lines/labels"
head -n 2 puzzles.txt | tr . 0 | sed 's/$/,of a list/' > "$corpus/lines/zeros"
head -n 2 puzzles.txt | iconv -t UTF-16 > "$corpus/lines/wide"
head -n 2 puzzles.txt | fold -w 9 > "$corpus/grids/bare"
sed -n 3p puzzles.txt | fold -w 9 | sed -E 's/(...)(...)(...)/|\1|\2|\3|/; 3~3a +---+---+---+' > "$corpus/grids/framed"
sed -n 4p puzzles.txt | fold -w 9 | sed -E 's/./& /g' > "$corpus/grids/spaced"
for mark in , ';' $'\t'; do
    { echo "id${mark}puzzle${mark}label${mark}weight${mark}family"
      sed -n 1,3p puzzles.txt | sed "s/.*/1${mark}&${mark}\"a \"\"b\"\"\"${mark}1.5${mark}7/"; } \
        > "$corpus/table/$(printf %d "'$mark")"
done
{ echo puzzle; head -n 2 puzzles.txt; } > "$corpus/table/column"
cp "$corpus"/lines/plain "$corpus"/grids/bare "$corpus"/table/column "$corpus/compressed"
head -n 2 puzzles.txt | gzip -9 > "$corpus/compressed/gzip"
head -n 2 puzzles.txt | zstd -q > "$corpus/compressed/zstd"

cp "$here"/../../crates/analysis/src/rulebooks/*.toml "$corpus/rulebook"
cp "$here"/../../crates/analysis/src/claim_files/*.toml "$corpus/claims"
cp "$here"/../../crates/analysis/src/readers/*.toml "$corpus/reader"
for recipe in "$here"/../../crates/report/src/study/built-in.toml "$here"/../../reports/*/recipe.toml; do
    cp "$recipe" "$corpus/recipe/$(basename "$(dirname "$recipe")").toml"
done

"$program" census puzzles.txt --keep-states --quiet -o dataset > /dev/null
"$program" census --make splitting --count 3 --quiet -o made > /dev/null
"$program" census puzzles.txt --quiet --when-stuck give-digit --course one-by-one -o one-by-one > /dev/null
"$program" collect puzzles.txt --quiet -o collection > /dev/null
for folder in dataset made one-by-one collection; do
    cp "$folder/manifest.json" "$corpus/manifest/$folder.json"
    for part in "$folder"/*/part-*.parquet; do
        cp "$part" "$corpus/parquet/${part//\//-}"
    done
done
find "$corpus" -type f | wc -l
