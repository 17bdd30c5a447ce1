#!/usr/bin/env bash
# Loads the first page of the demo daemon: 300 requests a second for 20 s, or
# as said by -rate and -for. Tells p50, p95 and p99, and what the page weighs.
# The budget is p99 under 20 ms and 60 KB all in, on two cores.
set -euo pipefail
cd "$(dirname "$0")/../.."
port=${PORT:-8417}
dir=$(mktemp -d)
daemon=
trap '[ -z "$daemon" ] || kill "$daemon" 2>/dev/null || true; rm -rf "$dir"' EXIT
go build -trimpath -o "$dir/forecastd" ./cmd/forecastd
(cd tools && go build -o "$dir/webload" ./webload)
"$dir/forecastd" serve -demo -listen "127.0.0.1:$port" >"$dir/log" 2>&1 &
daemon=$!
for _ in $(seq 120); do
  if curl -fso /dev/null "http://127.0.0.1:$port/readyz"; then break; fi
  kill -0 "$daemon" 2>/dev/null || { echo "the daemon ended:"; cat "$dir/log"; exit 1; }
  sleep 0.5
done
"$dir/webload" -base "http://127.0.0.1:$port" "$@"
