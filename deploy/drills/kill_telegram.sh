#!/bin/sh
# Kill the service 100 times (or $1) in five evenings of a class on Telegram while one call of ten fails; prints counts.
cd "$(dirname "$0")/../.." && HOLDFAST_DRILL_KILLS="${1:-100}" exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" tests/servers/test_kill_telegram.py
