PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
DATA ?= var/demo
PORT ?= 8501
CHECKED := tests/architecture tests/property tests/reference tests/dashboard tests/pipeline
# tests make thousands of small folders, and each waits for a disk: in memory where 8 GB are free, else where others do
SCRATCH := $(shell df -Pk /dev/shm 2>/dev/null | awk 'NR == 2 && $$4 > 8000000 {print "/dev/shm"}')
ifeq ($(SCRATCH),)
SCRATCH := $(or $(TMPDIR),/tmp)
endif
# what processes leave that tests kill goes with the folder
IN_SCRATCH = at=$$(mktemp -d $(SCRATCH)/latewood-XXXXXX) && trap 'rm -rf "$$at"' EXIT && OPENBLAS_NUM_THREADS=1 TMPDIR=$$at
# tests and screens start hundreds of Python processes: without bytecode files each compiles all it imports, for 8 s
export PYTHONDONTWRITEBYTECODE :=

.PHONY: demo test check lint bench calibrate mutants reliability setup browser lme4 nginx java docs screens clean

$(VENV)/.installed: pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[dev]'
	touch $@

setup: $(VENV)/.installed

demo: setup
	$(BIN)/latewood demo --data $(DATA)
	@echo "Open http://127.0.0.1:$(PORT) — invented data; stop with Ctrl-C"
	$(BIN)/latewood serve --data $(DATA) --port $(PORT)

browser:
	@sh .ci/chromium

lme4:
	@sh .ci/lme4

nginx:
	@sh .ci/nginx

java:
	@sh .ci/java

test: setup browser lme4 nginx java
	$(IN_SCRATCH) $(BIN)/python -m pytest -n 3 --dist loadfile --no-loadscope-reorder

check: lint
	$(IN_SCRATCH) $(BIN)/python -m pytest -n 2 --dist worksteal -m "not slow and not builds" $(CHECKED)

lint: setup
	$(BIN)/python -m tests.tools.links build/links
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	PYTHONPATH=build/links $(BIN)/lint-imports

calibrate: setup
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.calibration

mutants: setup
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.mutations

reliability: setup
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.reliability --runs 200 --files 1000 --weighins 300

bench: setup
	$(BIN)/python -m tests.bench.speed --readings 1000000 --more 10000000 --out docs/speed.md

screens: setup browser
	$(BIN)/python -m tests.tools.shots --data $(DATA) --out docs/screens

docs: setup
	$(BIN)/latewood dictionary > docs/data_dictionary.md
	$(BIN)/latewood measures --markdown > docs/measures.md
	$(BIN)/python -m tests.tools.figures --out docs/layout.md
	$(BIN)/python -m tests.tools.licences --out docs/licences.md

clean:
	rm -rf $(VENV) var build *.egg-info
