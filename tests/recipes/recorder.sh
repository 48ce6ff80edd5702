#!/bin/sh
# Prints each weighing that says something new, one a line: repeated ids and outdated revisions are dropped.
mkdir -p seen
mosquitto_sub -h "${1:-broker.local}" -p "${2:-1883}" -V 5 -i recorder-sh -c -q 1 -t 'neckyoke/+/+/weighing' |
  while read -r event; do
    weighing=${event#*'"weighing":"'} weighing=${weighing%%'"'*}
    revision=${event#*'"revision":'} revision=${revision%%[!0-9]*}
    [ "$revision" -gt "$(cat "seen/$weighing" 2>/dev/null || echo 0)" ] || continue
    printf '%s\n' "$event"
    echo "$revision" >"seen/$weighing"
  done
