# One command checks everything: make check. It goes on after a failure and ends with a summary.
VENV ?= .venv
BIN := $(VENV)/bin
OURS := recognizer planner shared service models tests

.PHONY: help install format check test audit

help:
	@echo "make install   a virtual environment in $(VENV) with everything for development"
	@echo "make format    format and sort imports"
	@echo "make check     format check, lint, import contracts, types, tests; goes on after a failure"
	@echo "make test      tests only"
	@echo "make audit     known vulnerabilities of the locked dependencies; needs the internet, and says so where it is not there"

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

audit:
	@python3.11 -m venv $(VENV)-audit && $(VENV)-audit/bin/pip install --quiet 'pip-audit>=2.7,<3'
	@failed=""; \
	$(VENV)-audit/bin/pip-audit --strict --disable-pip --no-deps -r .ci/constraints.txt || failed="$$failed, Python"; \
	(cd service/page && npm audit) || failed="$$failed, page"; \
	if [ -n "$$failed" ]; then echo "vulnerable, or not audited: $${failed#, } (the reason stands above)"; exit 1; fi; \
	echo "audited: nothing known"
