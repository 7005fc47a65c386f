#!/bin/sh
# Make sure a Chromium is there for the browser tests; install Debian's when it is not.
set -eu
if [ -n "${BEADWORTH_CHROMIUM:-}" ] || command -v chromium >/dev/null 2>&1; then
    exit 0
fi
run=""
if [ "$(id -u)" -ne 0 ]; then run="sudo"; fi
if command -v apt-get >/dev/null 2>&1; then
    echo "Installing chromium for the browser tests (Debian package)"
    $run apt-get update -qq
    $run env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core >/dev/null
else
    echo "No chromium found: install one and set BEADWORTH_CHROMIUM to its path." >&2
    exit 1
fi
