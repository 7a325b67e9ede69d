# One command each: set-up, demonstration, tests, benchmarks, checks.
.PHONY: setup demo test test-all test-browser bench evidence levers check lock clean
PAGE ?= yes
BIN := .venv/bin
PYTEST := $(BIN)/python -m pytest

setup: .venv/.ready

.venv/.ready: uv.lock pyproject.toml .python-version .ci/setup
	@sh .ci/setup
	@touch $@

demo: setup
	@$(BIN)/drive-progress demo $(if $(filter no,$(PAGE)),--no-page)

test: setup
	$(PYTEST) -n 2 --dist loadfile

test-browser: setup
	$(PYTEST) -m "browser and not slow" tests/browser

test-all: setup
	$(PYTEST) -m "not bench"

bench: setup
	@PATH="$$PATH:.tools/bin" uv sync --locked --quiet --group bench
	$(PYTEST) -m bench -s

levers: setup
	$(BIN)/python -m tests.recovery.levers_run

evidence: setup
	$(BIN)/python -m tests.evidence.programme
	$(BIN)/python -m tests.published.table

check: setup
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/codespell

lock:
	@sh .ci/setup lock

clean:
	rm -rf .venv .tools out .mypy_cache .pytest_cache .ruff_cache
