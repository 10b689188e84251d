# make demo    set up, build the example wing, say what to look at
# make test    set up, then lint, format, types, import contract and all tests
# make clean   remove what these made
# Another Python:  make demo PYTHON=python3.12

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt
DEMO := build-out/osier-1240

.PHONY: demo test browser clean

demo: $(VENV)/installed
	$(BIN)/wingpath build examples/osier-1240/spec.toml -o $(DEMO) --force
	@echo
	@echo "Look at:"
	@echo "  $(DEMO)/report.html         the whole wing on one page: open it in a browser"
	@echo "  $(DEMO)/drawing.pdf         sections and hinge line at true size; measure the bar first"
	@echo "  $(DEMO)/panel-1-left.stl    the root panel; look into it from above for the ribs and the bore"
	@echo "  $(DEMO)/panel-1-left.gcode  its path: read the head and the start block before you print it"
	@echo "  $(DEMO)/layers.csv          the proof, a row a layer: contours 1, rings 1, verdict ok"
	@echo "  $(DEMO)/report.json         every number with its unit"
	@echo "  examples/osier-1240/README.md            what is what in this wing"
	@echo "Your own wing:  $(BIN)/wingpath new my-wing.toml"

test: $(VENV)/installed-test browser
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest -n 2 --dist loadfile

# some tests open the report page in Chromium; it is installed where that can be done without asking
browser:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || \
	command -v google-chrome >/dev/null || \
	{ [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null && \
	{ apt-get -qq update && apt-get -qq install -y chromium; } >/dev/null 2>&1; } || \
	echo "No Chromium: the tests that open the report page are left out (on Debian: apt install chromium)." >&2

# a set-up that was interrupted leaves no mark and is done again
$(VENV)/installed: pyproject.toml constraints.txt | $(BIN)/python
	$(PIP) -e .
	@touch $@

$(VENV)/installed-test: pyproject.toml constraints.txt | $(BIN)/python
	$(PIP) -e ".[test]"
	@touch $@ $(VENV)/installed

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
		echo "wingpath needs Python 3.11 or newer; '$(PYTHON)' is" \
		"$$($(PYTHON) -c 'import platform; print(platform.python_version())' 2>/dev/null || echo missing)." \
		"Name another one, for example: make $(MAKECMDGOALS) PYTHON=python3.12" >&2; exit 1; }
	@$(PYTHON) -m venv $(VENV) || { rm -rf $(VENV); \
		echo "'$(PYTHON)' could not make a virtual environment; its venv module may be a package of its own" \
		"(python3-venv on some systems)." >&2; exit 1; }

clean:
	rm -rf $(VENV) build-out dist
