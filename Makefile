# Two commands matter: 'make demo' and 'make test'. Only Python >= 3.11 and make are needed.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.ready
TERRAIN := $(VENV)/.terrain

.PHONY: help demo test lint format docs bench clean

help:  ## Say what can be made
	@grep -E '^[a-z]+:.*##' Makefile | sed 's/:.*## /\t/'

$(STAMP): pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed; say which with: make demo PYTHON=python3.12"; exit 1; }
	@echo "setting up: this takes a minute or two"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	@touch $(STAMP)

demo: $(STAMP)  ## Plan the fictional block and say which files to open
	$(BIN)/rutwise demo -o rutwise-demo --overwrite

# for the tests: of the first only its elevation model of real terrain is used, of the second only
# the accessibility checker that it carries
$(TERRAIN): $(STAMP) Makefile
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps lidar==0.8.4
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps axe-playwright-python==0.1.8
	@touch $(TERRAIN)

test: $(STAMP) $(TERRAIN)  ## Check style, layers and types, and run all tests
	$(MAKE) lint
	$(BIN)/pytest -n auto --dist loadfile

lint: $(STAMP)  ## Check style, layers and types
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports
	$(BIN)/mypy

format: $(STAMP)  ## Bring the code into shape
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

docs: $(STAMP)  ## Write the generated reference pages
	$(BIN)/python docs/make_reference.py

bench: $(STAMP)  ## Measure speed and memory side by side with other libraries
	$(BIN)/python tests/bench/bench_surfaces.py
	$(BIN)/python tests/bench/bench_traffic.py
	$(BIN)/python -m tests.bench.bench_doubt

clean:  ## Remove what was made
	rm -rf $(VENV) rutwise-demo .pytest_cache .hypothesis .mypy_cache .ruff_cache
