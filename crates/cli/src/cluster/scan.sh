#!/usr/bin/env bash
# Scans the parts of a census as a Slurm array, and finishes it:
#
#     bash scan.sh DIR A..B [OPTIONS OF sbatch]
#
# `tallyhouse cluster --help` says what that needs.
set -euo pipefail

number='(0|[1-9][0-9]*)'
if (($# < 2)) || [[ ! $2 =~ ^$number\.\.$number$ ]] || ((BASH_REMATCH[1] > BASH_REMATCH[2])); then
    echo "usage: bash scan.sh DIR A..B [OPTIONS OF sbatch], with parts as in 0..11" >&2
    exit 2
fi
first=${BASH_REMATCH[1]} parts=$((BASH_REMATCH[2] - BASH_REMATCH[1] + 1))
out=$(realpath "$1")
shift 2
if ! program=$(command -v "${TALLYHOUSE:-tallyhouse}"); then
    echo "there is no tallyhouse in the path: say in TALLYHOUSE where it is" >&2
    exit 1
fi
program=$(realpath "$program")

# As many tasks as parts, but not more than an array may have, nor more than 1000.
tasks=${TASKS:-1000}
most=$(scontrol show config | awk '$1 == "MaxArraySize" { print $3 }')
for limit in "$parts" "$most"; do
    tasks=$((limit < tasks ? limit : tasks))
done

printf -v census '%q census --out %q' "$program" "$out"
share="\$(($first + $parts * SLURM_ARRAY_TASK_ID / $tasks))"
share+="..\$(($first + $parts * (SLURM_ARRAY_TASK_ID + 1) / $tasks - 1))"
scan="exec $census --parts $share --threads \${SLURM_CPUS_PER_TASK:-1} --quiet"
array=$(sbatch --parsable --job-name=census --requeue --array="0-$((tasks - 1))" "$@" \
    --wrap="$scan")
# Whatever became of the tasks: it names a part that is missing.
finish=$(sbatch --parsable --job-name=finish --dependency="afterany:${array%%;*}" "$@" \
    --wrap="exec $census --finish")
echo "array ${array%%;*} of $tasks tasks, then job ${finish%%;*}, which finishes"
