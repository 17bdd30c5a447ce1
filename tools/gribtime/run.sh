#!/bin/sh
# Compares the time our decoder takes with that of ecCodes' C library, on this
# machine, in one run. Needs a C compiler and the headers of ecCodes (Debian
# packages gcc, libeccodes-dev).
set -eu
cd "$(dirname "$0")/../.."
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT
cc -O2 -o "$bin/whole" tools/gribtime/eccodes/whole.c -leccodes
go build -o "$bin/gribtime" ./tools/gribtime
"$bin/gribtime" -eccodes "$bin/whole" -data "${FORECASTD_DATA:-../shared/data}"
