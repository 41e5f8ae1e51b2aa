# Sourced by the scripts beside it: makes the virtual environment .venv with pinned requirements, once.
# Use: environment requirements.txt      (or requirements-test.txt, which holds the former too)

find_python() {
    for candidate in "${PYTHON:-}" python3.11 python3.12 python3.13 python3.14 python3; do
        [ -n "$candidate" ] || continue
        command -v "$candidate" >/dev/null 2>&1 || continue
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        echo "$candidate"
        return
    done
    echo "Holdfast needs Python 3.11 or newer. Install it, or name it: PYTHON=/path/to/python3.11 sh $0" >&2
    return 1
}

environment() {
    wanted=$(cat "deploy/$1" pyproject.toml deploy/environment.sh | cksum)
    mark=.venv/holdfast-"$1"
    if [ -f "$mark" ] && [ "$(cat "$mark")" = "$wanted" ]; then
        return
    fi
    python=$(find_python)
    if [ ! -x .venv/bin/python ]; then
        echo "Making a virtual environment in .venv with $($python --version)."
        "$python" -m venv .venv || {
            echo "That Python cannot make virtual environments. On Debian: apt-get install python3-venv" >&2
            return 1
        }
    fi
    echo "Installing what deploy/$1 pins (once; about a minute)."
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r "deploy/$1"
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --no-index -e .
    echo "$wanted" >"$mark"
}
