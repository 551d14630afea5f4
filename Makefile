# Two commands do the work on a fresh machine: make demo, make test. Each sets itself up in .venv.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: help demo test check bench lock docs pictures wheelhouse clean

help:
	@echo "make demo        the whole road on simulated gauges, no hardware needed"
	@echo "make test        all tests"
	@echo "make check       lint, format and types"
	@echo "make bench       what many gauges cost, beside the floor; BENCH=--quick for rough figures"
	@echo "make docs        docs/cli.md anew, from the commands themselves"
	@echo "make pictures    docs/pictures anew, drawn by the program"
	@echo "make lock        requirements.lock anew, after a change of dependencies (needs uv)"
	@echo "make wheelhouse  the folder wheelhouse: all that an installation without a network needs"
	@echo "make clean       away with .venv and what builds leave behind"
	@echo "Another Python:  make PYTHON=python3.12 VENV=.venv-newer test"

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

# For this system and this Python; on another one, make it there.
wheelhouse: $(READY)
	@$(BIN)/python -m pip wheel --quiet --disable-pip-version-check --no-deps --no-build-isolation -w wheelhouse .
	@$(BIN)/python -m pip download --quiet --disable-pip-version-check -d wheelhouse --find-links wheelhouse \
	  'restpoint[bench,dcc,pdf,sign]'
	@echo "pipx install --pip-args='--no-index --find-links wheelhouse' 'restpoint[bench,dcc,pdf,sign]'"

clean:
	rm -rf $(VENV) wheelhouse build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis

docs: $(READY)
	@$(BIN)/python docs/make_cli_reference.py

pictures: $(READY)
	@$(BIN)/python docs/make_pictures.py
