# Sourced by the scripts beside it: makes the virtual environment .venv with pinned requirements, once.
# Use: environment requirements.txt                                     what the bot needs for Telegram and SQLite
#      environment requirements-matrix.txt requirements-postgres.txt    the same with these extras
#      environment requirements-test.txt                                everything, and what the tests need

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

install_pinned() {
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: "$@"
}

# The project itself, with the pinned build backend, which is needed for this moment only and not left behind.
install_project() {
    install_pinned --target .venv/build -r deploy/requirements-build.txt
    PYTHONPATH=$PWD/.venv/build .venv/bin/python -m pip install --quiet --disable-pip-version-check \
        --no-deps --no-build-isolation --no-index -e .
    rm -rf .venv/build
}

environment() {
    new=
    for lock in "$@"; do
        wanted=$(cat "deploy/$lock" deploy/requirements-build.txt pyproject.toml deploy/environment.sh | cksum)
        mark=.venv/holdfast-$lock
        if [ -f "$mark" ] && [ "$(cat "$mark")" = "$wanted" ]; then
            continue
        fi
        if [ ! -x .venv/bin/python ]; then
            python=$(find_python)
            echo "Making a virtual environment in .venv with $($python --version)."
            "$python" -m venv .venv || {
                echo "That Python cannot make virtual environments. On Debian: apt-get install python3-venv" >&2
                return 1
            }
        fi
        echo "Installing what deploy/$lock pins (once; about a minute)."
        install_pinned -r "deploy/$lock"
        [ -n "$new" ] || install_project
        new=yes
        echo "$wanted" >"$mark"
    done
}
