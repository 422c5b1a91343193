# Everything a stranger needs: demo, test. Only Python 3.11+, pip and make are assumed.
PYTHON ?= python3
RUN := .venv
DEV := .venv-test
ADDRESS ?= 127.0.0.1:8477
export PIP_DISABLE_PIP_VERSION_CHECK = 1

.PHONY: help demo demo-plan install-wheel test test-postgres lint bench lock clean

help:
	@echo "make demo       build, plan the demo unit's day and serve it on http://$(ADDRESS)/"
	@echo "make demo-plan  the same without serving; the sheets are in out/demo/"
	@echo "make test       everything CI runs: lint, types, import contract, tests on the installed wheel"
	@echo "make test-postgres  the site's tests once more, on a PostgreSQL that is started for them"
	@echo "make lint       ruff, mypy and the import contract only"
	@echo "make bench      how long the parts take, as ratios and seconds"
	@echo "make lock       write the two lock files anew (needs uv)"

$(RUN)/.ready: requirements.lock pyproject.toml $(shell find src -type f -not -name '*.pyc' 2>/dev/null)
	@test -x $(RUN)/bin/python || $(PYTHON) -m venv $(RUN)
	$(RUN)/bin/python -m pip install --quiet --require-hashes -r requirements.lock
	$(RUN)/bin/python -m pip install --quiet --no-deps .
	@touch $@

$(DEV)/.ready: requirements-dev.lock
	@test -x $(DEV)/bin/python || $(PYTHON) -m venv $(DEV)
	$(DEV)/bin/python -m pip install --quiet --require-hashes -r requirements-dev.lock
	@touch $@

demo: $(RUN)/.ready
	$(RUN)/bin/sideport demo out/demo-unit --out out/demo
	$(RUN)/bin/sideport serve out/demo --address $(ADDRESS)

demo-plan: $(RUN)/.ready
	$(RUN)/bin/sideport demo out/demo-unit --out out/demo

# The wheel is built and installed afresh, so that what follows meets the code a user gets, not the checkout.
install-wheel: $(DEV)/.ready
	rm -rf build dist
	$(DEV)/bin/python -m pip wheel --quiet --no-deps --no-build-isolation --wheel-dir dist .
	$(DEV)/bin/python -m pip install --quiet --no-deps --force-reinstall dist/sideport-*.whl

# The type checker starts the site's settings, so the package must be there.
lint: install-wheel
	$(DEV)/bin/ruff check .
	$(DEV)/bin/ruff format --check .
	PYTHONPATH=src $(DEV)/bin/lint-imports
	PYTHONPATH=src $(DEV)/bin/mypy

test: lint
	$(DEV)/bin/python -m pytest --numprocesses 2
	$(MAKE) test-postgres

# Without a PostgreSQL this says so and passes; in CI that fails.
test-postgres: $(DEV)/.ready
	@status=0; .ci/postgres $(DEV)/bin/python -m pytest --numprocesses 2 -m "not browser" tests/app tests/record/test_backup_engines.py || status=$$?; \
	if [ $$status = 69 ] && [ "$$CI" != true ]; then echo "NOT RUN: the site's tests on PostgreSQL"; else exit $$status; fi

bench: install-wheel
	$(DEV)/bin/python -m bench
	$(DEV)/bin/python -m bench.journal_bench

lock:
	uv pip compile --universal --generate-hashes --no-header --python-version 3.11 pyproject.toml -o requirements.lock
	uv pip compile --universal --generate-hashes --no-header --python-version 3.11 pyproject.toml --group dev -o requirements-dev.lock

clean:
	rm -rf $(RUN) $(DEV) build dist out .pytest_cache .mypy_cache .ruff_cache
