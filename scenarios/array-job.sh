#!/bin/sh
# Solves a run in parts, as an array job of Slurm, and merges the parts in a job that waits for all of them.
#
#   sh array-job.sh PARTS OUT SCENARIO [OPTIONS of fairphase run]
#
# The results come to OUT, the parts and what they say to OUT/parts. A task that is killed is queued again and
# goes on from its last step. FAIRPHASE names the program, where it is not on the path; SBATCH_PARTITION,
# SBATCH_TIMELIMIT and their like choose where the tasks run (sbatch(1), input environment variables).
set -eu
program=${FAIRPHASE:-fairphase}

submit() {
    parts=$1 out=$2
    shift 2
    mkdir -p "$out/parts"
    # One task a core: the tasks are independent, so that is the best use of the cores.
    array=$(sbatch --parsable --requeue --array="1-$parts" --cpus-per-task=1 \
        --output="$out/parts/task-%a.log" "$0" --task "$out" "$@")
    array=${array%%;*}
    sbatch --parsable --dependency="afterok:$array" --kill-on-invalid-dep=yes \
        --output="$out/parts/merge.log" "$0" --merge "$out"
}

# The scheduler's array variables tell which part this is, wherever the array begins.
task() {
    out=$1 scenario=$2
    shift 2
    number=$((SLURM_ARRAY_TASK_ID - SLURM_ARRAY_TASK_MIN + 1))
    parts=$SLURM_ARRAY_TASK_COUNT
    if [ $((SLURM_ARRAY_TASK_MAX - SLURM_ARRAY_TASK_MIN + 1)) -ne "$parts" ]; then
        echo "the numbers of the array have gaps: submit it whole" >&2
        exit 2
    fi
    status=0
    "$program" run "$scenario" "$@" --shard "$number/$parts" --resume --threads 1 --quiet \
        --out "$out/parts/part-$number" || status=$?
    # Above 128 it was killed; five times is no accident.
    if [ "$status" -gt 128 ] && [ "${SLURM_RESTART_COUNT:-0}" -lt 5 ]; then
        scontrol requeue "$SLURM_JOB_ID"
        sleep 60 # The scheduler ends this task.
    fi
    exit "$status"
}

case ${1-} in
--task) shift && task "$@" ;;
--merge) exec "$program" merge "$2"/parts/part-* --out "$2" ;;
'' | -*) sed -n '2,9s/^# \{0,1\}//p' "$0" && exit 2 ;;
*) submit "$@" ;;
esac
