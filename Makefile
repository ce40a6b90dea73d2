# Every target but help sets up what it needs first; PROGRAM=path picks the program folder.
# What is given reaches the commands through their environment as it was typed: no character of it acts in the shell or in make.
PROGRAM ?= build/demo
GIVEN := MINUTES WITHOUT_R FRESH PROGRAM SEASON ONLY ID WHOLE TRIAL SITE DESIGN BLOCKS SEED PROGRAMS PAGE CROPS UNITS
$(foreach name,$(GIVEN),$(eval override $(name) := $$(value $(name))))
export $(GIVEN)
# Commands begin with exec: make hands a request to end to the shell alone, which would leave the command at work.
PYTHON_HERE := .venv/bin/python
READY := .venv/setup.stamp
NOT_FAST := $(addprefix tests/unit/,contract/test_checks.py contract/test_results.py display/handout/test_page.py \
  display/words/test_own_prices.py incoming/test_workbook_limits.py planning/test_next_season.py planning/test_plot_workbook.py \
  planning/test_trial_workbook.py test_faces.py test_fingerprint.py test_installed.py test_warehouse.py)
FAST := tests/docs $(addprefix tests/unit/,contract display incoming planning settings site_years) \
  $(filter-out $(NOT_FAST),$(wildcard tests/unit/test_*.py)) $(addprefix --ignore=,$(NOT_FAST))

.DEFAULT_GOAL := help
.PHONY: help setup new workbook demo report season findings claims trace plan cooperators preview layout check-fits calibrate test test-fast test-thorough soak check bench r-answers

help: ## Show this list
	@echo "make TARGET [PROGRAM=path]   PROGRAM is a program folder; without it, the demo in build/demo"
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  %-10s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

setup: $(READY) ## Install what is needed: R by apt, Python packages into .venv; WITHOUT_R=yes goes without R
	@echo "Set up. Next: make report"

new: $(READY) ## Begin a program: make new PROGRAM=path [CROPS="corn cotton"] [UNITS=us|metric] [SEASON=year]
	@test "$$PROGRAM" != build/demo || { echo "Name the folder of the new program: make new PROGRAM=path" >&2; exit 1; }
	exec $(PYTHON_HERE) -m pipeline new --program "$$PROGRAM" \
	  $(if $(CROPS),--crops "$$CROPS") $(if $(UNITS),--units "$$UNITS") $(if $(SEASON),--season "$$SEASON")

workbook: $(READY) ## The workbook for cooperators of one more season: make workbook PROGRAM=path [SEASON=year]
	exec $(PYTHON_HERE) -m pipeline workbook --program "$$PROGRAM" $(if $(SEASON),--season "$$SEASON")

demo: $(READY) ## Make the invented demo program in PROGRAM
	exec $(PYTHON_HERE) -m pipeline demo --to "$$PROGRAM"

report: $(READY) ## Load all seasons of PROGRAM, estimate, publish its reports; FRESH=yes though nothing changed
	exec $(PYTHON_HERE) -m pipeline report $${FRESH:+--fresh} --program "$$PROGRAM"

season: $(READY) ## Add one more season: make season SEASON=path
	@test -n "$$SEASON" || { echo "Name the season folder: make season SEASON=path" >&2; exit 1; }
	exec $(PYTHON_HERE) -m pipeline season "$$SEASON" $${FRESH:+--fresh} --program "$$PROGRAM"

findings: $(READY) ## What to correct, in seconds, and a letter to each sender: make findings [ONLY=sender]
	exec $(PYTHON_HERE) -m pipeline findings $${ONLY:+--only "$$ONLY"} --program "$$PROGRAM"

claims: $(READY) ## Check the claims of PROGRAM against the evidence; fails if one must not be printed
	exec $(PYTHON_HERE) -m pipeline claims --program "$$PROGRAM"

trace: $(READY) ## Trace a printed estimate back to its plots: make trace ID=... [WHOLE=yes for every row]
	@test -n "$$ID" || { echo "Name the estimate: make trace ID=the short id beside a printed average" >&2; exit 1; }
	exec $(PYTHON_HERE) -m pipeline trace "$$ID" $${WHOLE:+--whole} --program "$$PROGRAM"

plan: $(READY) ## What more trials would buy, and a proposed list, from the last report
	exec $(PYTHON_HERE) -m pipeline plan --program "$$PROGRAM"

cooperators: $(READY) ## A folder of pages for each cooperator, with their own trials alone, from the last report
	exec $(PYTHON_HERE) -m pipeline cooperators --program "$$PROGRAM"

preview: $(READY) ## One page again, from the last report, into PROGRAM/preview: make preview PAGE=corn
	@test -n "$$PAGE" || { echo "Name the page: make preview PAGE=corn" >&2; exit 1; }
	exec $(PYTHON_HERE) -m pipeline preview "$$PAGE" --program "$$PROGRAM"

layout: $(READY) ## A plot workbook for a trial to plant: make layout TRIAL=id [SEASON= SITE= DESIGN= BLOCKS= SEED=]
	@test -n "$$TRIAL" || { echo "Name the planned trial, or the one whose treatments a new one takes: make layout TRIAL=2094-BB-corn" >&2; exit 1; }
	exec $(PYTHON_HERE) -m pipeline layout "$$TRIAL" --program "$$PROGRAM" \
	  $(if $(SEASON),--season "$$SEASON") $(if $(SITE),--site "$$SITE") $(if $(DESIGN),--design "$$DESIGN") \
	  $(if $(BLOCKS),--blocks "$$BLOCKS") $(if $(SEED),--seed "$$SEED")

check-fits: $(READY) ## Fit every model of PROGRAM by lme4 and by our own code: do they agree?
	exec $(PYTHON_HERE) -m pipeline check-fits --program "$$PROGRAM"

calibrate: $(READY) ## How often the intervals of PROGRAM would catch the truth, by simulation: [PROGRAMS=200]
	exec $(PYTHON_HERE) -m pipeline calibrate --program "$$PROGRAM" $(if $(PROGRAMS),--programs "$$PROGRAMS")

test: $(READY) ## Run the tests, on all cores
	$(PYTHON_HERE) -m pytest -n auto --dist loadfile

test-fast: $(READY) ## Run the quick ones while you write
	$(PYTHON_HERE) -m pytest -n auto --dist loadfile $(FAST)

test-thorough: $(READY) ## Run all but the slow ones: more seeds, examples and whole runs
	$(PYTHON_HERE) -m pytest -n auto --dist loadfile -m "not slow"

soak: $(READY) ## Hostile files, kills and faults from fresh seeds, for an hour: make soak [MINUTES=60]
	nice -n 10 $(PYTHON_HERE) -m tests.hard_to_break.soak --minutes "$${MINUTES:-60}"

check: ## Run what CI runs: lint, then the tests
	.ci/run

bench: $(READY) ## Measure the time of each step
	$(PYTHON_HERE) -m tests.benchmarks

r-answers: $(READY) ## Write R's stored answers again (needs Debian's r-cran-metafor, r-cran-clubsandwich, r-cran-pbkrtest and r-bioc-limma too)
	@for script in tests/r_answers/r/*.R; do Rscript "$$script" || exit 1; done

$(READY): requirements.lock pyproject.toml .setup/set_up.sh
	@.setup/set_up.sh
	@touch $@

# Only the demo is made when it is missing; a folder of yours never is.
ifeq ($(PROGRAM),build/demo)
report season findings: build/demo/program.yml
endif
build/demo/program.yml: | $(READY)
	exec $(PYTHON_HERE) -m pipeline demo --to build/demo
