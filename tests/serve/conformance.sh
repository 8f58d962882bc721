#!/usr/bin/env bash
# Holds the running service against its own OpenAPI document with schemathesis, a public property-based tester of APIs:
# every address, good and bad input, and chains of requests, for about two minutes. Fails on any failure.
#
# Needs python3 with venv, and the package index for the first run. VENV names where the tester is installed.
set -euo pipefail
cd "$(dirname "$0")/../.."

venv=${VENV:-target/conformance}
if [ ! -x "$venv/bin/schemathesis" ]; then
    python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check 'schemathesis==4.32.5'
fi

# The same build as that of the tests: a build of the program alone has other features of libraries and begins anew.
cargo test --test serve --no-run
log=$(mktemp)
address=$(mktemp)
target/debug/flitchwork serve --bind 127.0.0.1:0 --max-seconds 1 --answer-within 3 --log warnings >"$address" 2>"$log" &
service=$!
trap 'kill "$service" 2>/dev/null || true; rm -f "$log" "$address"' EXIT
for _ in $(seq 100); do
    [ -s "$address" ] && break
    sleep 0.1
done

tester=$(realpath "$venv/bin/schemathesis")
rules=$(realpath tests/serve/schemathesis.toml)
cd target # it leaves notes where it runs
"$tester" --config-file "$rules" run "$(cat "$address")/openapi.json" \
    --max-time "${SECONDS_TO_RUN:-120}" --max-examples 30 --seed 1 --request-timeout 30 --suppress-health-check all \
    --generation-database none --no-color

# Nothing that was sent may have been a fault of the program; what the HTTP library says of heads it cannot read is none.
if grep -E '"level":"ERROR".*"target":"flitchwork' "$log"; then
    exit 1
fi
kill -TERM "$service"
wait "$service"
