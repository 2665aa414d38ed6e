# Everything runs in .venv, which sets itself up on first use.
PYTHON ?= python3
BIN := .venv/bin
READY := .venv/.ready

.PHONY: demo app test test-long lint format bench faults falsifier gate histories walking golden docs site windows-folder screens clean

$(READY): pyproject.toml constraints.txt
	$(PYTHON) -m venv .venv
	$(BIN)/pip install --quiet --constraint constraints.txt --editable '.[dev]'
	touch $(READY)

demo: $(READY)
	@mkdir -p out
	$(BIN)/heldtrue plan examples/wear-ring.toml --sheet out/floor-sheet.pdf --drawings out

app: $(READY)
	$(BIN)/heldtrue app

# Many processes start: each would compile the package anew where bytecode is not kept.
test: $(READY)
	PYTHONDONTWRITEBYTECODE= $(BIN)/pytest -n 3

test-long: $(READY)
	PYTHONDONTWRITEBYTECODE= $(BIN)/pytest -n 3 -m long

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

format: $(READY)
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: $(READY)
	$(BIN)/python bench/run.py

faults: $(READY)
	$(BIN)/python bench/faults.py

falsifier: $(READY)
	$(BIN)/python bench/falsifier.py --markdown --setups 200 --draws 400

gate: $(READY)
	$(BIN)/python bench/gate.py --steps 20000

histories: $(READY)
	$(BIN)/python bench/histories.py --steps 400

walking: $(READY)
	$(BIN)/python bench/walking.py --markdown

golden: $(READY)
	$(BIN)/pytest tests/golden --regenerate

docs: $(READY)
	$(BIN)/python docs/make_reference.py
	$(BIN)/python docs/make_validation.py
	$(BIN)/python docs/make_figures.py
	$(MAKE) site

site: $(READY)
	$(BIN)/pip install --quiet --constraint constraints.txt --editable '.[docs]'
	$(BIN)/python docs/make_site.py

# PYTHON_ZIP: the embeddable zip of Python for Windows; without it the folder says what is missing.
windows-folder: $(READY)
	$(BIN)/pip install --quiet --constraint constraints.txt --editable '.[windows-folder]'
	$(BIN)/python windows/make_folder.py $(if $(PYTHON_ZIP),--python $(PYTHON_ZIP))

screens: $(READY)
	$(BIN)/python docs/make_screens.py

clean:
	rm -rf .venv out build dist
