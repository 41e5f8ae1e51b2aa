#!/bin/sh
# Plan the evening of a district, 3,334 classes of 30 students and 60 topics (or $1 classes), on SQLite and PostgreSQL; hours.
cd "$(dirname "$0")/../.." && HOLDFAST_BENCHMARK_CLASSES="${1:-3334}" exec .venv/bin/python -m pytest -q -n 0 --timeout 36000 -m "" tests/benchmarks/test_district.py
