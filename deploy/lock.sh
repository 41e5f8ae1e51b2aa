#!/bin/sh
# Pin what pyproject.toml names: exact versions with hashes, as wheels only, for Python 3.11 to 3.13 at once.
# Needs uv. Versions that are pinned already stay where they still fit; newer ones: sh deploy/lock.sh --upgrade
# Writes no registry address into the files.
set -eu
cd "$(dirname "$0")/.."
lock() {
    out=deploy/requirements$1.txt
    shift
    uv pip compile --universal --python-version 3.11 --generate-hashes --only-binary :all: --no-emit-index-url \
        --no-header --quiet "$@" -o "$out"
}
# The tests use everything, so their lock decides the versions; the others take the same ones.
lock -test pyproject.toml --extra matrix --extra postgres --group test "$@"
lock "" pyproject.toml -c deploy/requirements-test.txt "$@"
lock -matrix pyproject.toml --extra matrix -c deploy/requirements-test.txt "$@"
lock -postgres pyproject.toml --extra postgres -c deploy/requirements-test.txt "$@"
lock -pdf pyproject.toml --extra pdf -c deploy/requirements-test.txt "$@"
lock -build --group build -c deploy/requirements-test.txt "$@"
lock -pgserver --group pgserver --no-deps "$@" # only its server is used
lock -synapse --group synapse "$@"
