#!/bin/sh
# The tests that need no server, on every other Python that the program is for and that this machine has.
#   sh deploy/versions.sh         3.11, 3.12 and 3.13, without the one in .venv, which deploy/test.sh takes
#   sh deploy/versions.sh 3.13    this one
set -eu
cd "$(dirname "$0")/.."
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
# These environments hold the dependencies only; programs that the tests start elsewhere find the project by this.
export PYTHONPATH="$PWD"

# By name, else where pyenv keeps those that are not switched on.
interpreter() {
    for candidate in "python$1" "${PYENV_ROOT:-$HOME/.pyenv}"/versions/"$1".*/bin/"python$1"; do
        command -v "$candidate" >/dev/null 2>&1 || continue
        "$candidate" -c 'import ensurepip, venv' 2>/dev/null || continue # a pyenv shim may name nothing
        echo "$candidate"
        return
    done
}

tested=$(.venv/bin/python -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null || true)
for version in ${*:-3.11 3.12 3.13}; do
    [ "$version" != "$tested" ] || continue
    python=$(interpreter "$version")
    if [ -z "$python" ]; then
        echo "== Python $version is not on this machine; its tests are skipped."
        continue
    fi
    echo "== tests on Python $version"
    folder=.versions/$version
    wanted=$(cksum <deploy/requirements-test.txt)
    if [ ! -f "$folder/holdfast" ] || [ "$(cat "$folder/holdfast")" != "$wanted" ]; then
        "$python" -m venv "$folder"
        "$folder/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes \
            --only-binary :all: -r deploy/requirements-test.txt
        echo "$wanted" >"$folder/holdfast"
    fi
    "$folder/bin/python" -m pytest -n "$(getconf _NPROCESSORS_ONLN)" --dist worksteal -p no:cacheprovider \
        -m "not server and not slow" tests/unit tests/contracts
done
