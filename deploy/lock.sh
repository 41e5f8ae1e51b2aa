#!/bin/sh
# Renew the pinned requirements. Writes no registry address into them.
set -eu
cd "$(dirname "$0")"
lock() { uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --quiet "$@"; }
lock requirements.in -o requirements.txt
lock requirements-test.in -o requirements-test.txt
