# `make run` sets everything up and opens the bench; `make test` sets everything up and checks it all.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: run test check setup browser postgres clean

$(STAMP): pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	touch $(STAMP)

setup: $(STAMP)

# The browser tests drive Debian's own Chromium; elsewhere set BEADWORTH_CHROMIUM to a Chromium or Chrome.
browser:
	@sh tools/ensure-browser.sh

# The bench tests run on a real PostgreSQL server of their own; BEADWORTH_SKIP_POSTGRES=1 leaves them out.
postgres:
	@sh tools/ensure-postgres.sh

run: setup
	$(BIN)/beadworth demo

check: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

test: setup browser postgres check
	$(BIN)/pytest -n 2 --dist loadfile

clean:
	rm -rf $(VENV)
