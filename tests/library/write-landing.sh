#!/usr/bin/env bash
# Writes a small stored library as an earlier landing of the program wrote it: tests/library/landings/COMMIT.
#   bash tests/library/write-landing.sh COMMIT
# The program of that commit runs from a worktree of its own; what it stored is never written again by a newer one.
set -euo pipefail
commit=$1
root=$(git rev-parse --show-toplevel)
tree=$(mktemp -d)/tree
git worktree add --detach "$tree" "$commit" >/dev/null
trap 'git worktree remove --force "$tree"' EXIT
ln -s "$(readlink -f "$root/node_modules")" "$tree/node_modules"
out="$root/tests/library/landings/$commit"
rm -rf "$out" && mkdir -p "$out"
work=$(mktemp -d)
awk 'BEGIN { print "Time [s],Pack voltage [V],Pack current [A],Cell 1 [V],Cell 2 [V],Cell 3 [V],Speed [km/h]"
  for (i = 0; i < 90; i++) { a = 60 * (1 - ((i % 20) - 10) ^ 2 / 100)
    printf "%d,%.1f,%.1f,%.3f,%.3f,%.3f,%.1f\n", i, 12 - 0.01 * a, a, 4 - 0.001 * a, 4 - 0.001 * a, 4 - 0.0012 * a, a / 3 } }' > "$work/tiny.csv"
echo '{ "name": "Juniper", "kit": "Hedge", "pack": { "cells": 3 } }' > "$work/car.json"
cd "$tree"
set +e
node --import tsx src/cli.ts review "$work/tiny.csv" --vehicle "$work/car.json" --save --data "$out" >/dev/null
set -e
id=$(ls "$out/drives")
node --import tsx --input-type=module -e "
import { annotateDrive } from '$tree/src/library/library.ts'
import { openPlace } from '$tree/src/library/place.ts'
import { rememberCorrections } from '$tree/src/library/remembered.ts'
const place = openPlace('$out')
annotateDrive(place, '$id', 'Bolt of joint 2 looked at.', 'Juniper before the rain')
rememberCorrections(place, 'a layout', { 'Zeta 7': { channel: 'pack_current', unit: 'A' } })
"
find "$out" -type f | sort | xargs ls -l | awk '{print $5, $9}'
