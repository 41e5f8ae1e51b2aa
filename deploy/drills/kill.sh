#!/bin/sh
# Kill the service 200 times (or $1) at random moments while a class answers, on SQLite and PostgreSQL; prints counts.
cd "$(dirname "$0")/../.." && HOLDFAST_DRILL_KILLS="${1:-200}" exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" tests/servers/test_kill_service.py
