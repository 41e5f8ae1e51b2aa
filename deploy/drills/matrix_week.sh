#!/bin/sh
# Play a whole week of a class on Matrix, with a real homeserver and encrypted clients.
cd "$(dirname "$0")/../.." && HOLDFAST_DRILL_WEEK=1 exec .venv/bin/python -m pytest -q -n 0 --timeout 3000 -m "" tests/endtoend/test_matrix_week.py
