#!/bin/sh
# Draw what a student sees in a real Matrix client; needs node, npm, chromium, fonts-noto-color-emoji and the test servers.
set -e
cd "$(dirname "$0")/../.."
client=${1:-$(mktemp -d)}
npm install --silent --ignore-scripts --prefix "$client" hydrogen-view-sdk@0.3.1 @matrix-org/olm@3.2.15 esbuild@0.28.2
cp tests/matrixclient/* "$client"/
node "$client"/node_modules/esbuild/install.js
"$client"/node_modules/.bin/esbuild "$client"/main.js --bundle --format=esm --outfile="$client"/bundle.js --log-level=error \
    --external:crypto --external:path --external:fs
cp -r "$client"/node_modules/hydrogen-view-sdk/asset-build/assets "$client"/node_modules/hydrogen-view-sdk/lib-build/sw.js \
    "$client"/node_modules/@matrix-org/olm/olm* "$client"/
exec .venv/bin/python -m tests.matrixscreens "$client"
