# Everything runs in .venv, which `make setup` fills from requirements.lock and renews when that file changes.

PYTHON ?= python3
PORT ?= 8050
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

WITH_UV = uv venv -q --allow-existing --python "$(PYTHON)" $(VENV) \
	&& uv pip install -q --python $(BIN)/python --require-hashes -r requirements.lock \
	&& uv pip install -q --python $(BIN)/python --no-deps --no-build-isolation -e .
WITH_PIP = "$(PYTHON)" -m venv $(VENV) \
	&& $(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements.lock \
	&& $(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .

.PHONY: help setup demo quick test lint changed browser bench faults shots lock
.DEFAULT_GOAL := help

help:
	@echo "make demo    load an invented plant's fortnight and show it at http://127.0.0.1:$(PORT)/"
	@echo "make quick   the checks, and the tests of what changed since main, within a minute"
	@echo "make test    check style, types and import arrows, then run every test"
	@echo "make lint    the checks alone"
	@echo "make bench   measure loading and reckoning"
	@echo "make faults  kill work on a ledger 300 times, damage 20,000 files, check 200 plants with messy notes"
	@echo "             and the random plants of which make test checks a few"
	@echo "make shots   take the manual's pictures anew (needs Chromium)"
	@echo "make lock    renew requirements.lock (needs uv)"

setup: $(STAMP)

# uv where there is one; a uv that cannot reach its index must not stop a pip that can.
$(STAMP): requirements.lock
	@"$(PYTHON)" -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "strokeledger needs Python 3.11 or later: make PYTHON=python3.11"; exit 1; }
	@echo "installing into $(VENV)"
	@{ command -v uv >/dev/null && $(WITH_UV); } || { $(WITH_PIP); }
	@touch $@

demo: $(STAMP)
	$(BIN)/strokeledger demo --port $(PORT)

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check --quiet .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo

# Side by side: two cores are enough for both to end within a minute.
quick: $(STAMP)
	@$(MAKE) --no-print-directory -j2 --output-sync=target lint changed

changed: $(STAMP)
	@$(BIN)/python -m tests.changed

browser: $(STAMP)
	@$(BIN)/python -m tests.browser.chromium

test: lint browser
	$(BIN)/python -m pytest -m "" -n 2 --dist loadfile

bench: $(STAMP)
	@set -e; for script in $$(grep -l __main__ tests/benchmarks/*.py); do \
		name=$$(basename $$script .py); echo "== $$name"; $(BIN)/python -m tests.benchmarks.$$name; \
	done

faults: $(STAMP)
	$(BIN)/python -m tests.faults.kills --count 300
	$(BIN)/python -m tests.faults.fuzz --count 20000
	$(BIN)/python -m tests.messy --count 200
	STROKELEDGER_ALL_SEEDS=1 $(BIN)/python -m pytest -m "" -n 2 $$(grep -rl "import some$$" tests)

shots: $(STAMP)
	$(BIN)/python -m tests.browser.shots

lock:
	uv pip compile -q --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate \
		--generate-hashes requirements-dev.in -o requirements.lock
