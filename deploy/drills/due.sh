#!/bin/sh
# Claim what is due beside ten million (or $1) rows planned for later, on SQLite and PostgreSQL; prints times and query plans.
cd "$(dirname "$0")/../.." && HOLDFAST_BENCHMARK_ROWS="${1:-10000000}" exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" tests/benchmarks/test_storage_due.py
