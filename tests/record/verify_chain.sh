#!/bin/sh
# Checks chain and sums of one journal, from coach/journal/format.md alone: sh, awk, sha256sum.
# Prints the nanoseconds given on each spot, or where the chain breaks (exit code 1).
set -u
before=$(printf '%064d' 0)
number=0
while IFS= read -r line; do
    number=$((number + 1))
    head=${line%',"sum":"'*}
    stated=${line##*',"sum":"'}
    sum=$(printf '%s%s' "$before" "$head" | sha256sum | cut -c 1-64)
    [ "$stated" = "$sum\"}" ] || { echo "line $number does not follow"; exit 1; }
    before=$sum
done < "$1"
awk -F'"kind":"' '
    { split($2, kind, "\""); data = $2; spot = data; given = data
      sub(/.*"spot":/, "", spot); sub(/.*"given_ns":/, "", given); spot += 0 }
    kind[1] == "heartbeat" { last = spot; held = given + 0; open = 1 }
    kind[1] == "hold_ended" { sum[spot] += given; open = 0 }
    kind[1] ~ /^session_(resumed|cut_off)$/ && open { sum[last] += held; open = 0 }
    END { if (open) sum[last] += held
          for (spot in sum) if (sum[spot]) printf "%d %.0f\n", spot, sum[spot] }' "$1" | sort -n
