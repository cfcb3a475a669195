# make demo · make test · make check · make bench        (plain make; GNU make 3.81 will do)

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP_OPTIONS := --disable-pip-version-check --quiet --prefer-binary
MEGAPIXELS ?= 6
SHOOT := reports/sample-shoot
OUT := reports/demo

.DEFAULT_GOAL := help
.PHONY: check-limits help demo test check wheel bench docs site example lock clean

help:
	@echo "make demo    install, make the sample shoot, audit it; prints where the report is"
	@echo "make test    install, run all tests"
	@echo "make check   format, lint and types"
	@echo "make wheel   install the built wheel on every Python that is here, audit with it, compare"
	@echo "make check-limits  move every limit by a third and ask the tests to notice (ROOMS="black group.BEND")"
	@echo "make bench   measure speed and memory; writes reports/bench.md (some rows only: ROWS=\"start page\")"
	@echo "make docs    make the reference, the notebook's answers and the gallery anew"
	@echo "make site    make the documentation's pages, to read in a browser"
	@echo "make example make the small example report under reports/example"
	@echo "make lock    write down anew which versions are tested (needs uv)"
	@echo "make clean   remove what was made here"

# The environment is made once; a stamp file says that it is whole.
$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "Python 3.11 or newer is needed; '$(PYTHON)' is older. Try: make PYTHON=python3.12 ..."; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null && $(PYTHON) -m venv $(VENV) || { \
	  rm -rf $(VENV); \
	  $(PYTHON) -m pip --version >/dev/null 2>&1 && $(PYTHON) -m venv --without-pip $(VENV) || { \
	    rm -rf $(VENV); \
	    echo "This Python cannot make an environment. On Debian or Ubuntu: sudo apt install python3-venv"; \
	    exit 1; }; }

INSTALL = if $(BIN)/python -m pip --version >/dev/null 2>&1; \
	then $(BIN)/python -m pip install $(PIP_OPTIONS) -e '.$(1)'; \
	else $(PYTHON) -m pip --python $(BIN)/python install $(PIP_OPTIONS) -e '.$(1)'; fi

$(VENV)/.ready-samples: pyproject.toml | $(VENV)/bin/python
	@echo "Installing (about 15 seconds) ..."
	@$(call INSTALL,)
	@touch $@

$(VENV)/.ready-dev: pyproject.toml | $(VENV)/bin/python
	@echo "Installing with the test tools (about half a minute) ..."
	@$(call INSTALL,[dev])
	@touch $@ $(VENV)/.ready-samples

demo: $(VENV)/.ready-samples
	@if [ -f $(SHOOT)/truth.json ]; then echo "The sample shoot is there: $(SHOOT)"; \
	else $(BIN)/python -m sample_generation $(SHOOT) --megapixels $(MEGAPIXELS); fi
	@$(BIN)/auditor audit $(SHOOT)/*/ --out $(OUT) --replace --store $(OUT)/store.sqlite; \
	status=$$?; test $$status -le 1 || { echo "The demo failed: the audit ended with status $$status." >&2; exit $$status; }
	@grep -q '"status": *"measured"' $(OUT)/audit.json || { \
	  echo "The demo failed: no frame of the sample shoot could be measured; the reasons stand above." >&2; exit 1; }
	@echo; echo "Open the report: $(OUT)/report.html"
	@echo "What this shoot taught: $(BIN)/auditor history --store $(OUT)/store.sqlite"

test: $(VENV)/.ready-dev
	@$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

check: $(VENV)/.ready-dev
	@$(BIN)/ruff format --check .
	@$(BIN)/ruff check .
	@$(BIN)/biome check --error-on-warnings
	@$(BIN)/mypy
	@$(BIN)/python -m tests.house

wheel: $(VENV)/.ready-dev
	@$(BIN)/python -m tests.wheel_check

check-limits: $(VENV)/.ready-dev
	@$(BIN)/python -m tests.check_limits $(ROOMS)

bench: $(VENV)/.ready-dev
	@$(BIN)/python -m tests.bench $(ROWS)

docs: $(VENV)/.ready-dev
	@$(BIN)/python -m tests.docs_maker
	@$(BIN)/python -m tests.python_session
	@$(BIN)/python -m tests.notebook_maker
	@$(BIN)/python -m tests.gallery_maker
	@$(BIN)/python -m tests.drawings_maker

site: $(VENV)/.ready-dev
	@$(BIN)/python -m tests.site_maker reports/site

example: $(VENV)/.ready-dev
	@rm -rf reports/example-shoot
	@$(BIN)/python -m sample_generation reports/example-shoot --megapixels 1 --seed 11
	@$(BIN)/auditor audit reports/example-shoot/*/ --out reports/example --replace --no-store --format html --format json; \
	status=$$?; test $$status -le 1 || exit $$status
	@$(BIN)/python -m tests.report_picture reports/example/report.html reports/example

lock:
	@UV_CUSTOM_COMPILE_COMMAND="make lock" uv pip compile --quiet --universal --python-version 3.11 --upgrade \
	  --all-extras --no-annotate --output-file tests/locks/tested.txt pyproject.toml

clean:
	rm -rf $(VENV) $(SHOOT) $(OUT) reports/example-shoot reports/bench-frames reports/site .mypy_cache .ruff_cache .pytest_cache .hypothesis
