#!/bin/sh
# Make sure a Chromium is there for the browser tests, and the letters charts are set in; install Debian's where not.
set -eu
missing=""
# The shell that only ever draws unseen is the same engine and takes half the processor time.
there=${BEADWORTH_CHROMIUM:-$(command -v chromium-headless-shell || true)}
if [ -z "$there" ]; then
    missing="chromium-headless-shell fonts-dejavu-core"
fi
# A wider stand-in for Liberation Sans runs over the edge of a chart.
if command -v apt-get >/dev/null 2>&1 && ! ls /usr/share/fonts/truetype/liberation*/LiberationSans-Regular.ttf >/dev/null 2>&1; then
    missing="$missing fonts-liberation"
fi
if [ -z "$missing" ]; then
    exit 0
fi
run=""
if [ "$(id -u)" -ne 0 ]; then run="sudo"; fi
if command -v apt-get >/dev/null 2>&1; then
    echo "Installing for the browser tests (Debian packages): $missing"
    $run apt-get update -qq
    if ! apt-cache show chromium-headless-shell >/dev/null 2>&1; then
        missing=$(echo "$missing" | sed s/chromium-headless-shell/chromium/)  # an older Debian
    fi
    # shellcheck disable=SC2086 # several names
    $run env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
elif command -v chromium >/dev/null 2>&1; then
    exit 0
else
    echo "No chromium found: install one and set BEADWORTH_CHROMIUM to its path." >&2
    exit 1
fi
