# Two commands do the work on a fresh machine: make demo, make test. Each sets itself up in .venv.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: demo test check bench lock docs pictures clean

demo: $(READY)
	@$(BIN)/restpoint demo

test: $(READY)
	@$(BIN)/python -m pytest

check: $(READY)
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy

# A quarter of an hour on a quiet machine. More: python -m tests.benchmarks.wire --help
bench: $(READY)
	@$(BIN)/python -m tests.benchmarks.wire $(BENCH)

# Everything comes from the hashed lock; the project itself is installed without asking any index.
$(READY): requirements.lock
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "$(PYTHON) cannot be run, or is older than Python 3.11. Name another one: make PYTHON=python3.12 $(MAKECMDGOALS)"; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' 2>/dev/null || { \
	  v=$$($(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])'); \
	  echo "Python's venv module is missing. Type: sudo apt install python3-venv    (or python$$v-venv)"; exit 1; }
	@echo "Setting up $(VENV) from requirements.lock (once; a minute or so)..."
	@$(PYTHON) -m venv --clear $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --no-index -e .
	@touch $(READY)

# Needs uv. No index or registry address gets into the lock, so it holds on any mirror.
lock:
	uv pip compile pyproject.toml --extra bench --extra dcc --extra pdf --extra sign --extra dev --universal --python-version 3.11 --generate-hashes \
	  --no-emit-index-url --no-emit-find-links --no-annotate --no-header --quiet -o requirements.lock

clean:
	rm -rf $(VENV) build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis

docs: $(READY)
	@$(BIN)/python docs/make_cli_reference.py

pictures: $(READY)
	@$(BIN)/python docs/make_pictures.py
