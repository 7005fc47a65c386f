# `make run` sets everything up and opens the bench; `make test` sets everything up and checks it all.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
RUNS := $(VENV)/.runs
INSTALL := sh tools/install.sh

# Where this is set, every process of the tests would compile every module anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: run test tests test-long coverage check style types docs pictures changelog lines setup browser postgres clean

# What the app needs to run, and no more; each library is named as it comes, and every file must have a hash that
# stands in pins/. The package itself is no file to hash: it is installed last, and fetches nothing.
$(RUNS): pyproject.toml $(wildcard pins/*.txt)
	@echo "Setting up, once: 1 of 3, a Python environment in $(VENV)"
	@$(PYTHON) -m venv $(VENV)
	@echo "Setting up, once: 2 of 3, the libraries"
	@$(INSTALL) --require-hashes -r pins/run.txt
	@$(INSTALL) --no-deps --no-build-isolation -e .
	@touch $(RUNS)
	@echo "Setting up, once: 3 of 3, the demo"

$(STAMP): $(RUNS)
	@echo "Setting up, once: what a developer uses"
	@$(INSTALL) --require-hashes -r constraints.txt
	@touch $(STAMP)

setup: $(STAMP)

# The browser tests drive Debian's own Chromium; elsewhere set BEADWORTH_CHROMIUM to a Chromium or Chrome.
browser:
	@sh tools/ensure-browser.sh

# The bench tests run on a real PostgreSQL server of their own; BEADWORTH_SKIP_POSTGRES=1 leaves them out.
postgres:
	@sh tools/ensure-postgres.sh

run: $(RUNS)
	@$(BIN)/beadworth demo

check: style types

style: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports

types: style
	$(BIN)/pyrefly check --python-interpreter-path $(BIN)/python

# Two things at a time: style and types are checked while the tests are collected and the kernels compiled.
test:
	@$(MAKE) --no-print-directory --jobs 2 tests types

# A process more than cores: some tests wait for a browser, a server or a cable.
tests: setup browser postgres
	$(BIN)/pytest --processes 3

# Long statistical batches and many more random cases; once per release. The result goes into docs/testing.md.
test-long: setup browser postgres
	mkdir -p build
	$(BIN)/pytest --processes 2 --long --junitxml=build/long.xml; \
		code=$$?; $(BIN)/python tools/write_long_result.py build/long.xml && exit $$code

# What the tests run of the source, line by line, in build/coverage.
coverage: setup browser postgres
	mkdir -p build
	$(BIN)/pytest --processes 2 --cov --cov-report=term:skip-covered --cov-report=html:build/coverage

# Everything in docs/ that is made from the code.
DOC_TOOLS := $(filter-out tools/make_changelog.py,$(sort $(wildcard tools/make_*.py)))
docs: setup
	@for tool in $(DOC_TOOLS); do echo $$tool; $(BIN)/python $$tool || exit 1; done

PICTURED := $(addprefix tests/web/test_,$(addsuffix .py,cause_browser parts_browser phone_browser prints_browser rig_journey wear_browser web_browser web_journey witness_browser worth_browser))

# Its pictures: drawings from the benchmarks, pages photographed by the tests that walk through them.
pictures: setup browser
	$(BIN)/python benchmarks/coupon_program.py --draw
	$(BIN)/python benchmarks/fit_check.py --draw
	$(BIN)/python benchmarks/motion_plan.py --draw
	BEADWORTH_SCREENSHOTS=1 $(BIN)/pytest -q $(PICTURED)

# At a release: make changelog VERSION=0.2.0
changelog: setup
	$(BIN)/python tools/make_changelog.py $(VERSION)

lines: setup
	$(BIN)/python tools/count_lines.py

clean:
	rm -rf $(VENV)
