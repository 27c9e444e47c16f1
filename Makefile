# Each target is one command of bootstrap.py, which runs without make, too (README.md, Windows).
PYTHON ?= python3

.PHONY: demo test lint bench lock clean
demo test lint bench lock clean:
	@$(PYTHON) bootstrap.py $@
