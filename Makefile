# Everything there is to run. POSIX make; Python 3.11 or newer. See DEVELOPERS.md.
#
#   make test PYTHON=python3.12     uses another Python

PYTHON ?= python3
BIN = .venv/bin
ON_PATH = echo 'The command strandline in this terminal: . $(BIN)/activate (in every one: pipx install .)'

.PHONY: help setup demo test static check check-long coverage docs lowest apart mutants bench format clean lock bom licences headless fuzz

help:
	@echo 'make demo        set up, read the sample photos, set up an invented bike (all of it into demo/)'
	@echo 'make test        set up and run the tests'
	@echo 'make setup       make .venv with all that the tests need'
	@echo 'make check       format, lint, types, import rules, tests'
	@echo 'make check-long  the same with coverage, long tests, site, lowest versions, fuzzing, mutants (an hour or two)'
	@echo 'make coverage    the tests, and which lines they run'
	@echo 'make docs        the guides and the API as a site that opens offline (site/index.html)'
	@echo 'make lowest      the tests with the lowest versions that pyproject.toml allows'
	@echo 'make apart       installs beside the logging library whose import name used to clash, and tries both'
	@echo 'make mutants     changes the code in 150 places and sees whether a test fails; ALL=1: in all of them (hours)'
	@echo 'make bench       what reading and a whole day take, as ratios measured side by side (fifteen minutes)'
	@echo 'make lock        pin what constraints.txt names with the hashes of its files (needs uv)'
	@echo 'make bom         the bill of materials of an installation, CycloneDX (bom/bom.cdx.json)'
	@echo 'make licences    the licences of all that an installation brings'
	@echo 'make fuzz        feeds each parser with what its own lines suggest, SECONDS=60 each (Linux, macOS)'
	@echo 'make headless    the tests with opencv-python-headless in the place of opencv-python'
	@echo 'make format      put the code into its usual form'
	@echo 'make clean       remove what was made, .venv included'

# What a reader of photos needs. OpenCV is loaded once here, so that a missing screen library is told now.
# Every file is checked against its hash, what builds the package too; requirements/ is made by `make lock`.
PIP = $(BIN)/python -m pip install --quiet --disable-pip-version-check
LOCKED = $(PIP) --require-hashes
.venv/installed: pyproject.toml requirements/build.txt requirements/run.txt
	@$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or newer is needed: make PYTHON=python3.12 ..." if sys.version_info < (3, 11) else 0)'
	@$(PYTHON) -c 'import ensurepip, venv' || { echo 'Python has no venv here; on Debian and Ubuntu: apt install python3-venv' >&2; exit 1; }
	$(PYTHON) -m venv .venv
	$(LOCKED) -r requirements/build.txt
	$(LOCKED) -r requirements/run.txt
	$(PIP) --no-deps --no-build-isolation -e .
	@$(BIN)/python -c 'import cv2' || { echo 'OpenCV cannot load; on Debian and Ubuntu: apt install libgl1 libglib2.0-0' >&2; exit 1; }
	@touch .venv/installed

# The same with what the tests and checks need.
.venv/installed-dev: .venv/installed requirements/dev.txt
	$(LOCKED) -r requirements/dev.txt
	@touch .venv/installed-dev

setup: .venv/installed-dev
	@$(ON_PATH)

demo: .venv/installed
	$(BIN)/strandline demo
	@$(ON_PATH)

test: .venv/installed-dev
	$(BIN)/python -m pytest -n 2

static: .venv/installed-dev
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

check: static test

check-long: static coverage apart docs lowest
	$(BIN)/python -m pytest -n 2 -m long
	$(MAKE) fuzz SECONDS=30
	$(MAKE) mutants

# Apart from `make test`, since counting lines costs a third of the time (26 and 41 % of the CPU time, measured).
coverage: .venv/installed-dev
	$(BIN)/python -m pytest -n 2 --cov --cov-report=term

.venv/installed-tools: .venv/installed requirements/tools.txt
	$(LOCKED) -r requirements/tools.txt
	@touch .venv/installed-tools

# The theme is maintained until May 2027 and says so at each build; zensical is made by the same people after it.
docs: .venv/installed-tools
	NO_MKDOCS_2_WARNING=1 $(BIN)/python -m mkdocs build --strict --quiet
	@echo 'site/index.html'

# All but what starts many processes or renders, with one version of everything that the project names.
lowest:
	$(PYTHON) -m venv .venv-lowest
	$(PYTHON) .ci/lowest.py > .venv-lowest/lowest.txt
	.venv-lowest/bin/python -m pip install --quiet --disable-pip-version-check -c .venv-lowest/lowest.txt -e '.[dev]'
	.venv-lowest/bin/python -m pytest -n 2 tests/calibration tests/suspension tests/ridelog tests/guides \
	    tests/vision/test_samples.py tests/vision/test_overlay.py tests/strandline --ignore tests/strandline/day

apart:
	$(PYTHON) .ci/apart.py

# A sample drawn by the commit's hash, and no longer than 20 minutes; docs/mutation.md.
mutants: .venv/installed-dev .venv/installed-tools
	$(BIN)/python .ci/mutants.py $(if $(ALL),--all)

# Versions come from constraints.txt, files and hashes from the index; any system, Python 3.11 to 3.13.
UV = uv pip compile --quiet --universal --generate-hashes --python-version 3.11.5 --no-header --no-annotate -c constraints.txt
lock:
	$(UV) requirements/build.in -o requirements/build.txt
	$(UV) pyproject.toml -o requirements/run.txt
	$(UV) pyproject.toml --extra dev -o requirements/dev.txt
	$(UV) pyproject.toml --extra docs --extra mutants --extra supply --extra cluster -o requirements/tools.txt
	$(UV) pyproject.toml --extra fuzz -o requirements/fuzz.txt

# What an installation brings, and nothing else, in an environment of its own.
bom/.venv/installed: requirements/run.txt
	$(PYTHON) -m venv bom/.venv
	bom/.venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	@touch bom/.venv/installed

bom: bom/.venv/installed .venv/installed-tools
	$(BIN)/python -m cyclonedx_py environment bom/.venv --pyproject pyproject.toml --mc-type application \
	    --output-reproducible --of JSON -o bom/bom.cdx.json
	@echo 'bom/bom.cdx.json'

licences: bom/.venv/installed .venv/installed-tools
	$(BIN)/pip-licenses --python bom/.venv/bin/python --order license --with-urls

# For servers and those who want neither Qt nor X11: the other package brings the same module.
headless: .venv/installed-dev
	$(PYTHON) -m venv .venv-headless
	.venv-headless/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	.venv-headless/bin/python -m pip uninstall --quiet --yes opencv-python
	.venv-headless/bin/python -m pip install --quiet --disable-pip-version-check \
	    opencv-python-headless==$$(sed -n 's/^opencv-python==//p' constraints.txt)
	.venv-headless/bin/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	.venv-headless/bin/python -m pytest -n 2

.venv/installed-fuzz: .venv/installed-dev requirements/fuzz.txt
	$(LOCKED) -r requirements/fuzz.txt
	@touch .venv/installed-fuzz

# What is found is kept in .fuzz/; a crash that was fixed goes to tests/fuzz/seeds/, which `make test` replays.
SECONDS ?= 60
fuzz: .venv/installed-fuzz
	$(BIN)/python -m tests.fuzz --seconds $(SECONDS)

bench: .venv/installed
	$(BIN)/python -m bench

format: .venv/installed-dev
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

clean:
	rm -rf .venv .venv-lowest .venv-headless bom demo site mutants .coverage build dist *.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
