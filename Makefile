# The two commands a newcomer types: `make demo` and `make test`. Each sets up what it needs in .venv.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet --no-input
PYTEST := $(BIN)/python -m pytest
SHORT  := $(PYTEST) -m "not full and not bench" -n auto --dist loadfile --no-loadscope-reorder
# Idle threads of the linear algebra spin, and their time would count: one thread, for ours and for every peer.
ONE_CORE := OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

.DEFAULT_GOAL := help
.PHONY: help demo test check check-full bench lint types imports wheel audit lock clean

help: ## list the commands
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 12

demo: $(VENV)/.run ## start the service with an invented fleet, print what is due and why
	$(BIN)/wearwright demo

test: $(VENV)/.test ## run the tests (short runs of the long ones), as many files at once as there are cores
	$(SHORT) tests

check: lint types imports ## lint, format, types, import rules, dependencies

check-full: $(VENV)/.test ## the long runs with their figures, and the service over PostgreSQL
	WEARWRIGHT_TEST_DATABASE=postgresql $(SHORT) tests/api tests/contract tests/browser
	WEARWRIGHT_TEST_DATABASE=postgresql $(PYTEST) -m "full" --timeout 7200 -s tests/contract tests/api/imports
	$(PYTEST) -m "full" --timeout 7200 -s tests

bench: $(VENV)/.test ## speed and memory as ratios against a peer in the same run
	$(ONE_CORE) $(PYTEST) -m "bench" --timeout 7200 -s tests/benchmarks

lint: $(VENV)/.test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/deptry planner api

types: $(VENV)/.test
	$(BIN)/mypy

imports: $(VENV)/.test
	$(BIN)/lint-imports --no-cache

wheel: $(VENV)/.run ## build the wheel into dist/
	$(BIN)/python -m pip wheel --quiet --no-deps --no-build-isolation --wheel-dir dist .

audit: $(VENV)/.test ## ask the advisory database about the locked versions (needs a network)
	$(BIN)/pip-audit --require-hashes -r requirements.lock

lock: ## make both lock files anew (needs uv on the PATH)
	.ci/lock

clean: ## remove the environment, the demo's folder and build output
	rm -rf $(VENV) .demo build dist .mypy_cache .ruff_cache .hypothesis

$(VENV)/.python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "wearwright needs Python 3.11 or later; say where it is: make PYTHON=/path/to/python3.11 $(MAKECMDGOALS)"; exit 1; }
	@echo "setting up $(VENV) (once, one to three minutes)"
	$(PYTHON) -m venv $(VENV)
	@touch $@

$(VENV)/.run: requirements.lock pyproject.toml | $(VENV)/.python
	$(PIP) install --require-hashes -r requirements.lock
	$(PIP) install --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/.test: tests/requirements.lock $(VENV)/.run
	$(PIP) install --require-hashes -r tests/requirements.lock
	@touch $@
