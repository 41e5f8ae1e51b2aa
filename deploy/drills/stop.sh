#!/bin/sh
# Three processes on one PostgreSQL: kill the one that receives, stop the next for ten minutes (or $1 seconds), continue it; prints counts.
cd "$(dirname "$0")/../.." && HOLDFAST_DRILL_STOP_S="${1:-600}" exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" tests/servers/test_kill_workers.py
