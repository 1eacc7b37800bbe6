# `make demo` and `make test` work in a fresh clone: each first makes .venv and installs what is missing, in exactly the
# versions that were tested (.ci/lock). PYTHON=… chooses the Python that .venv is made with; otherwise it is the first
# found of 3.11 or later.

VENV := .venv
RUN := $(VENV)/bin
ifeq ($(shell uname),Darwin)
# Programs outside Homebrew's own folder find its libraries by this path only.
LIBRARIES := DYLD_FALLBACK_LIBRARY_PATH="$$(brew --prefix)/lib"
endif

.PHONY: demo test test-apart thorough test-newest test-oldest lock lint format types bench fuzz drawn messages schemas clean

demo: $(VENV)/ready
	$(LIBRARIES) $(RUN)/impact demo

TEST := -m pytest -n auto --dist worksteal
test: $(VENV)/ready-dev
	$(LIBRARIES) $(RUN)/python $(TEST)

# The tests of tests/apart.txt: with a browser, an office program, and processes that are interrupted or counted.
test-apart: $(VENV)/ready-dev
	$(LIBRARIES) $(RUN)/python $(TEST) --apart

# Those, those of tests/thorough.txt, and all others.
thorough: $(VENV)/ready-dev
	$(LIBRARIES) $(RUN)/python $(TEST) --thorough

# The same tests with the newest releases, and with the lower bounds of pyproject.toml: each in an environment of its own,
# made anew every time, because what is newest changes.
test-newest test-oldest: test-%:
	@sh .ci/prepare venv $(VENV)-$* $(PYTHON)
	@sh .ci/prepare $* $(VENV)-$*
	@status=0; for apart in "" --apart; do \
	    $(LIBRARIES) $(VENV)-$*/bin/python $(TEST) $$apart || status=1; \
	done; exit $$status

# What `make demo` and `make test` install: all packages, with hashes, in the newest versions that the bounds allow.
lock: $(VENV)/bin/python
	@sh .ci/prepare lock $(VENV)

lint: $(VENV)/ready-dev
	$(RUN)/ruff check
	$(RUN)/ruff format --check

format: $(VENV)/ready-dev
	$(RUN)/ruff check --fix
	$(RUN)/ruff format

types: $(VENV)/ready-dev
	$(RUN)/mypy

bench: $(VENV)/ready-dev
	@status=0; for script in startup "scale --large" change; do \
	    set -- $$script; script=$$1; shift; \
	    $(LIBRARIES) $(RUN)/python "tests/benchmarks/$$script.py" "$$@" || status=1; \
	done; exit $$status

# Inputs for the readers; what is found stands in build/fuzz and fails the target. FUZZ_INPUTS=… changes their number.
fuzz: FUZZ_INPUTS ?= 20000
fuzz: $(VENV)/ready-dev
	$(RUN)/python -m pip install -q -e '.[fuzz]'
	$(RUN)/python tests/fuzz/readers.py $(FUZZ_INPUTS)

# Whole folders drawn from seeds and held to the laws of tests/drawn.py; FOLDERS=… and FIRST=… change their number and seeds.
drawn: FOLDERS ?= 5000
drawn: FIRST ?= 1000
drawn: $(VENV)/ready-dev
	$(RUN)/python tests/fuzz/folders.py $(FOLDERS) $(FIRST)

# The texts of the reports for translators; each language is a file beside it, written by hand.
messages: $(VENV)/ready
	$(RUN)/pybabel -q extract -F report_templates/translations/babel.cfg -k message -k word -k translate:2 -k translate_count:2,3 -k Said -k Counted:1,2 \
		--omit-header --no-wrap --sort-output --add-location=file -o report_templates/translations/messages.pot .

# The schemas of the JSON documents, from the types of the package.
schemas: $(VENV)/ready-dev
	$(RUN)/python -m tests.schemas

clean:
	rm -rf $(VENV) $(VENV)-newest $(VENV)-oldest build dist impact-demo

# The package is installed in place, so that only a change to what it needs calls for another install.
# .venv/bin/python is named to notice a .venv whose Python has gone.
NEEDED := pyproject.toml .ci/prepare $(wildcard .ci/lock/*)
$(VENV)/ready: $(NEEDED) $(VENV)/bin/python
	@sh .ci/prepare demo $(VENV)
	@touch $@

$(VENV)/ready-dev: $(NEEDED) $(VENV)/bin/python
	@sh .ci/prepare test $(VENV)
	@touch $(VENV)/ready $@

$(VENV)/bin/python:
	@sh .ci/prepare venv $(VENV) $(PYTHON)
