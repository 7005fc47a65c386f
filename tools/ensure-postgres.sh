#!/bin/sh
# Make sure PostgreSQL's server programs are there for the bench tests; install Debian's when not.
set -eu
if [ -n "${BEADWORTH_SKIP_POSTGRES:-}" ] || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 \
    || command -v initdb >/dev/null 2>&1; then
    exit 0
fi
run=""
if [ "$(id -u)" -ne 0 ]; then run="sudo"; fi
if command -v apt-get >/dev/null 2>&1; then
    echo "Installing postgresql for the bench tests (Debian package; no service is started)"
    $run apt-get update -qq
    $run mkdir -p /etc/postgresql-common
    $run sh -c 'grep -qs create_main_cluster /etc/postgresql-common/createcluster.conf || echo "create_main_cluster = false" >> /etc/postgresql-common/createcluster.conf'
    $run env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends postgresql >/dev/null
else
    echo "No PostgreSQL server found: install one, or set BEADWORTH_SKIP_POSTGRES=1." >&2
    exit 1
fi
