# One command checks everything: make check. It goes on after a failure and ends with a summary.
VENV ?= .venv
BIN := $(VENV)/bin
OURS := recognizer planner shared service models tests

.PHONY: help install format check test

help:
	@echo "make install   a virtual environment in $(VENV) with everything for development"
	@echo "make format    format and sort imports"
	@echo "make check     format check, lint, import contracts, types, tests; goes on after a failure"
	@echo "make test      tests only"

install:
	python3.11 -m venv $(VENV)
	$(BIN)/pip install --quiet -e '.[test]'

format:
	$(BIN)/ruff format $(OURS)
	$(BIN)/ruff check --fix $(OURS)

test:
	$(BIN)/pytest -n 2

check:
	@failed=""; \
	run() { name="$$1"; shift; echo "== $$name"; "$$@" || failed="$$failed, $$name"; }; \
	run "format" $(BIN)/ruff format --check $(OURS); \
	run "lint" $(BIN)/ruff check $(OURS); \
	run "import contracts" $(BIN)/lint-imports; \
	run "types" $(BIN)/mypy; \
	run "tests" $(BIN)/pytest -n 2; \
	echo "== summary"; \
	if [ -n "$$failed" ]; then echo "failed: $${failed#, }"; exit 1; fi; \
	echo "all passed"
