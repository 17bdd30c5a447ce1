#!/usr/bin/env bash
# Installs the accessibility checker into a folder and prints where its script
# is, for FORECASTD_AXE: export FORECASTD_AXE=$(tools/axe/install.sh DIR)
set -euo pipefail
dir=${1:?which folder?}
mkdir -p "$dir"
cp "$(dirname "$0")"/package.json "$(dirname "$0")"/package-lock.json "$dir"
npm ci --prefix "$dir" --ignore-scripts --no-audit --no-fund --silent >&2
echo "$dir/node_modules/axe-core/axe.min.js"
