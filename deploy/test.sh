#!/bin/sh
# Lint, strict types and all tests, on real servers where the tests need some.
#   sh deploy/test.sh                        everything
#   sh deploy/test.sh tests/unit -k planner  only these tests (words are passed on to pytest)
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh
. deploy/servers.sh
# On a fresh machine the servers are downloaded beside everything else that comes before the tests.
if [ "$#" -eq 0 ]; then
    ensure_synapse &
    synapse=$!
fi
environment requirements-test.txt
if [ "$#" -eq 0 ]; then
    ensure_postgres &
    postgres=$!
fi
echo "== lint"
.venv/bin/ruff check .
.venv/bin/ruff format --check .
.venv/bin/lint-imports --no-logo
echo "== types"
.venv/bin/mypy
[ -z "${synapse:-}" ] || wait "$synapse" "$postgres"
echo "== tests"
# One thread per process for linear algebra: the test processes share the cores among themselves.
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
if [ "$#" -gt 0 ]; then
    exec .venv/bin/pytest "$@"
fi
# Benchmarks compare speeds, so they run by themselves, and first: nothing else may take their time.
.venv/bin/pytest tests/benchmarks -s
exec .venv/bin/pytest -n "$(getconf _NPROCESSORS_ONLN)" --dist worksteal --durations 15 --ignore tests/benchmarks
