# Everything a person does more than once. `make demo` and `make test` each work as the first command ever typed.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
export OPENBLAS_NUM_THREADS ?= 1

.PHONY: setup demo studio browser test bench lint lock check-real demo-pictures clean help

help:            ## what can be made
	@grep -hE '^[a-z-]+: .*##|^[a-z-]+:.*##' Makefile | sed -E 's/:.*##/ —/'

setup: $(VENV)/.ready  ## build .venv with the longlens command in .venv/bin

# Debian ships Python without ensurepip, so a venv made with pip inside may fail there: then the system's pip fills it.
$(VENV)/.ready: requirements/dev.txt pyproject.toml
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV) 2>/dev/null || $(PYTHON) -m venv --clear --without-pip $(VENV)
	@if $(BIN)/python -m pip --version >/dev/null 2>&1; then \
	   $(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements/dev.txt && \
	   $(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e . ; \
	 else \
	   $(PYTHON) -m pip --python $(BIN)/python install -q --disable-pip-version-check --require-hashes -r requirements/dev.txt && \
	   PATH="$(CURDIR)/$(BIN):$$PATH" $(PYTHON) -m pip --python $(BIN)/python install -q --disable-pip-version-check --no-deps --no-build-isolation -e . ; \
	 fi
	@touch $@

demo: setup      ## the invented cars from their photographs to their first briefs, in demo-out
	$(BIN)/longlens demo --to demo-out

studio: setup    ## the studio in the browser, on the demo (built first when it is not there)
	@test -f demo-out/fulmar.longlens || $(MAKE) --no-print-directory demo
	$(BIN)/longlens studio demo-out/fulmar.longlens

# The tests of the studio drive Debian's Chromium: installed where this may be done (as root, with apt); elsewhere those
# tests are reported as not run, each by its name.
browser:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || \
	   { test "$$(id -u)" = 0 && command -v apt-get >/dev/null && \
	     { apt-get update -qq; DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null; }; } || \
	   echo "no Chromium here: the tests that drive a browser will be reported as not run (Debian: apt-get install chromium)"

test: setup browser ## lint and the whole test suite
	$(MAKE) --no-print-directory lint
	$(BIN)/python -m pytest -n 2 --dist worksteal -rs

lint: setup      ## ruff, mypy, and the floors checked by import-linter
	$(BIN)/ruff check src tests tools
	$(BIN)/ruff format --check src tests tools
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo 2>/dev/null || $(BIN)/lint-imports

bench: setup     ## ratios measured side by side in one run
	$(BIN)/python -m tools.bench

check-real: setup ## the survey on real photographs (scikit-image wheel, Debian's opencv-doc where installed)
	$(BIN)/python -m tools.check_real

lock:            ## resolve the locked versions again
	$(BIN)/uv pip compile -q pyproject.toml --extra dev --generate-hashes --no-emit-index-url --no-header -o requirements/dev.txt
	$(BIN)/uv pip compile -q pyproject.toml --generate-hashes --no-emit-index-url --no-header -o requirements/run.txt
	$(BIN)/uv pip compile -q pyproject.toml --extra render --generate-hashes --no-emit-index-url --no-header -o requirements/render.txt

clean:           ## remove what was built
	rm -rf $(VENV) build dist .mypy_cache .ruff_cache .pytest_cache .import_linter_cache

RENDER := .venv-render
RENDERED := PYTHONPATH=$(CURDIR):$(CURDIR)/src $(RENDER)/bin/python -m tools.demo_pictures
demo-pictures:   ## render the demo's photographs again (hours; SMALL=1: minutes, to see that it works; docs/demo.md)
	@test -x $(RENDER)/bin/python || $(PYTHON) -m venv $(RENDER)
	$(RENDER)/bin/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements/render.txt
	$(RENDERED).make_truth
	$(RENDERED).projection_check
	$(RENDERED).shoot $(if $(SMALL),--small)
	$(RENDERED).contact_sheet
