# make demo       the whole job on the bundled example, every file written to demo/
# make test       what CI runs: sets everything up, then all tests
# make check      format, lint, types, tests
# make benchmark  speed and memory beside the reference programs of the same run
# make clean      everything that make made
#
# PYTHON (python3) and VENV (.venv) may be set: make test PYTHON=python3.12 VENV=/tmp/boxwright

PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
WORKERS ?= auto

# A stamp lies inside the environment, so that throwing the environment away throws the stamp away.
INSTALLED := $(VENV)/.installed
INSTALLED_DEV := $(VENV)/.installed-dev

SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help demo test check format lint types benchmark install install-dev ngspice clean

help:
	@sed -n 's/^# \(make .*\)/\1/p' Makefile

demo: install
	$(BIN)/boxwright demo demo/

test: install ngspice
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile

check: format lint types test

format: install-dev
	$(BIN)/ruff format --check .

lint: install-dev
	$(BIN)/ruff check .

types: install-dev
	$(BIN)/mypy

benchmark: install ngspice
	$(BIN)/python benchmarks/run.py

install: $(INSTALLED)

install-dev: $(INSTALLED_DEV)

$(BIN)/python:
	@command -v "$(PYTHON)" >/dev/null || { \
	    echo "$(PYTHON) is not installed; install Python 3.11 or later (Debian: apt-get install python3 python3-venv), or name it: make PYTHON=/path/to/python3" >&2; exit 1; }
	@"$(PYTHON)" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	    echo "Python must be 3.11 or later, got $$("$(PYTHON)" --version); name another: make PYTHON=python3.12" >&2; exit 1; }
	@if ! "$(PYTHON)" -c 'import ensurepip, venv' 2>/dev/null; then \
	    package="python$$("$(PYTHON)" -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv"; \
	    if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	        apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$$package"; \
	    else \
	        echo "Python's venv module is missing; run: sudo apt-get install $$package" >&2; exit 1; \
	    fi; \
	fi
	"$(PYTHON)" -m venv "$(VENV)"

$(INSTALLED): pyproject.toml constraints.txt | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test]'
	@touch $@

$(INSTALLED_DEV): $(INSTALLED)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test,dev]'
	@touch $@

# The tests and the benchmarks hold their numbers against a circuit simulator.
ngspice:
	@if ! command -v ngspice >/dev/null; then \
	    if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	        apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends ngspice; \
	    else \
	        echo "ngspice is missing and the tests compare with it; run: sudo apt-get install ngspice" >&2; exit 1; \
	    fi; \
	fi

clean:
	rm -rf "$(VENV)" demo build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find src tests benchmarks examples -depth -name __pycache__ -exec rm -rf {} +
