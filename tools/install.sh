#!/bin/sh
# install.sh ARGUMENTS: what `pip install ARGUMENTS` does in .venv, sooner where uv can do it.
# uv fetches and unpacks many files at once, but knows nothing of pip's configuration (another index, a
# folder of files). Where it cannot be had or does not get through, pip does it all, as if uv were not there.
set -e
python=.venv/bin/python
pip="$python -m pip install --disable-pip-version-check"

if [ ! -x .venv/bin/uv ]; then
	# Never built from source: that takes longer than it saves.
	$pip --quiet --only-binary :all: --require-hashes -r pins/installer.txt || true
fi
if [ -x .venv/bin/uv ] && .venv/bin/uv pip install --python "$python" "$@"; then
	exit
fi
echo "Installing with pip alone, which takes longer." >&2
# What is used is compiled as it is imported; compiling all that is installed takes as long as installing it.
exec $pip --progress-bar on --no-compile "$@"
