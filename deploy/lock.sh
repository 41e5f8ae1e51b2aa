#!/bin/sh
# Renew the pinned requirements. Writes no registry address into them.
set -eu
cd "$(dirname "$0")"
lock() { uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --quiet "$@"; }
lock requirements.in -o requirements.txt
lock requirements-test.in -o requirements-test.txt
lock -c requirements.txt requirements-pdf.in -o requirements-pdf.txt
lock --no-deps requirements-postgres.in -o requirements-postgres.txt # only its server is used
[ ! -f requirements-synapse.in ] || lock requirements-synapse.in -o requirements-synapse.txt
