#!/bin/sh
# Write the weekly reports of 200 (or $1) classes of 30 after ten weeks in one run; prints the time of a class.
cd "$(dirname "$0")/../.." && HOLDFAST_BENCHMARK_CLASSES="${1:-200}" exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" \
    tests/benchmarks/test_evidence_command.py
