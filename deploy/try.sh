#!/bin/sh
# Play a whole term of an invented school on this machine: no account, no server, no question asked.
#   sh deploy/try.sh             starts clean, writes into try-out/
#   sh deploy/try.sh --continue  goes on where the last run stopped
#   sh deploy/try.sh --help      all options
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh
environment requirements.txt
exec .venv/bin/holdfast demo --out try-out "$@"
