# Everything runs in .venv, which the first target that needs it makes from the pinned requirements and which is brought
# up to date when they change. Needed: make and Python 3.11 or newer. `make` alone lists the targets.

VENV   ?= .venv
BIN    := $(VENV)/bin
LEAST  := (3, 11)
# The first Python that is new enough; say `make PYTHON=/path/to/python ...` for another one.
PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11 python; do \
	$$p -c 'import sys; sys.exit(sys.version_info < $(LEAST))' 2>/dev/null && echo $$p && break; done)
PIP    := $(BIN)/python -m pip --quiet --disable-pip-version-check install
# Two test processes: the suite's long tests are single-threaded, and two cores are the least to be expected.
JOBS   ?= 2

# The track chart is written by rate already; the rate over the carriers would take as long as all the rest.
DRAWN  := floor,causes,move,accuracy,current

# Many tests start Python anew; without kept bytecode each of them would compile the package and the tests again.
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: help demo test test-long lint bench kernel docs requirements clean

help:  ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "make %-14s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: $(VENV)/.runtime  ## rate, check, draw and hand over the demo line; names what to open
	@rm -rf out/demo out/demo-pictures out/demo-papers out/demo-check.txt
	@$(BIN)/linewright rate examples/demo/line.yaml --out out/demo; code=$$?; \
	if [ $$code -gt 1 ] || [ ! -d out/demo ]; then \
		echo "make demo: the demo line could not be rated (exit code $$code)" >&2; exit 2; fi; \
	echo; echo "Open out/demo/track-chart.html in a browser: the whole line in one picture."; \
	echo "Now checking, drawing and writing the papers; where nothing is compiled yet that takes a minute."; \
	$(BIN)/linewright check examples/demo/line.yaml --run >out/demo-check.txt; code=$$?; \
	if [ $$code -gt 1 ]; then \
		echo "make demo: the demo line could not be checked (exit code $$code)" >&2; exit 2; fi; \
	$(BIN)/linewright draw examples/demo/line.yaml --out out/demo-pictures --only $(DRAWN) >/dev/null; code=$$?; \
	if [ $$code -gt 0 ]; then \
		echo "make demo: the demo line could not be drawn (exit code $$code)" >&2; exit 2; fi; \
	$(BIN)/linewright handover examples/demo/line.yaml --out out/demo-papers >/dev/null; code=$$?; \
	if [ $$code -gt 0 ]; then \
		echo "make demo: the papers of the demo line could not be written (exit code $$code)" >&2; exit 2; fi; \
	echo; echo "The results are in out:"; \
	ls -d out/demo/* out/demo-pictures/* out/demo-papers/*.pdf out/demo-papers/*.dxf out/demo-papers/*.xlsx out/demo-check.txt | sed 's/^/  /'; \
	echo; echo "Open out/demo/track-chart.html in a browser: the whole line in one picture."; \
	echo "Open out/demo-papers/dossier.pdf: what is handed to the customer."

# What needs what says the rest: the loops are compiled while pip still installs what the checks need.
test:  ## style, types, imports, docs, then all tests but the long ones
	@$(MAKE) --no-print-directory -j $(JOBS) kernel lint docs
	$(BIN)/python -m pytest -q -n $(JOBS) $(TEST)

test-long: $(VENV)/.dev  ## the tests that take minutes: thousands of random lines, fuzzers
	$(BIN)/python -m pytest -q -n $(JOBS) -m long $(TEST)

lint: $(VENV)/.dev  ## style, format, types, and who imports whom
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.dev  ## time the kernel against SimPy and C; prints one table
	$(BIN)/python -m bench

kernel: $(VENV)/.runtime  ## compile both event loops now and not when they are first used
	@for line in examples/demo/line.yaml examples/ways/operators.yaml; do \
		$(BIN)/linewright rate $$line --hours 0.1 --runs 2 --no-gains >/dev/null; test $$? -le 1 || exit 2; done

docs: $(VENV)/.dev  ## build the documentation into docs/_build/html
	$(BIN)/python -m sphinx -q -W --keep-going -b html docs docs/_build/html

requirements: $(VENV)/.dev  ## pin the newest versions anew from requirements/*.in
	cd requirements && for name in runtime dev; do \
		../$(BIN)/uv pip compile --upgrade --quiet --universal --python-version 3.11 --no-header --no-annotate \
			--no-emit-index-url --no-emit-find-links $$name.in --output-file $$name.txt || exit; done

clean:  ## remove results, built docs and caches; .venv stays
	rm -rf out build dist docs/_build .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis .coverage
	find src tests bench docs -name __pycache__ -type d -prune -exec rm -rf {} +

# ---- the environment -------------------------------------------------------------------------------------------------

$(VENV)/.made:
	@if [ -z "$(PYTHON)" ]; then \
		echo "Linewright needs Python 3.11 or newer, and none was found on the path." >&2; \
		echo "Install one, or name it: make PYTHON=/path/to/python3.12 $(MAKECMDGOALS)" >&2; exit 1; fi
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < $(LEAST))' 2>/dev/null || { \
		is=$$($(PYTHON) --version 2>/dev/null || echo "no program that runs"); \
		echo "Linewright needs Python 3.11 or newer; $(PYTHON) is $$is." >&2; \
		echo "Name another one: make PYTHON=/path/to/python3.12 $(MAKECMDGOALS)" >&2; exit 1; }
	@echo "Making $(VENV) with $$($(PYTHON) --version); this happens once."
	@$(PYTHON) -m venv $(VENV) || { \
		echo "The environment could not be made; on Debian and Ubuntu: apt install python3-venv" >&2; exit 1; }
	@touch $@

$(VENV)/.runtime: $(VENV)/.made requirements/runtime.txt pyproject.toml
	@echo "Installing the program into $(VENV)."
	@$(PIP) --requirement requirements/runtime.txt
	@$(PIP) --no-deps --editable .
	@touch $@

$(VENV)/.dev: $(VENV)/.runtime requirements/dev.txt
	@echo "Installing what tests and docs need into $(VENV)."
	@$(PIP) --requirement requirements/dev.txt
	@touch $@
