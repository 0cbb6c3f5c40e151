# The verbs. Each calls a tool and knows nothing itself.
PY  := .venv/bin/python
ENV := PYTHONPATH=$(CURDIR):$(CURDIR)/tests PLATFORMIO_SETTING_ENABLE_TELEMETRY=no

# Tests over each part of the whole library: some six thousand, so they have a verb of their own.
LIBRARY := tests/host/parts/test_parts_sequences.py tests/host/replace/test_alike_library.py tests/host/vectors/test_vectors_library.py tests/system/test_two_hands.py

.PHONY: help setup generate check lint firmware virtual demo test library board study identify learn twohands speed logtrials fuzz mutation claims figures ci clean

help:            ## what there is
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## */\t/' | expand -t 12

setup:           ## Debian packages (as root) and .venv
	@python3 tests/prepare.py

generate: setup  ## write all derived files anew
	$(ENV) $(PY) -m protocol.derive
	$(ENV) $(PY) -m hardware.derive
	$(ENV) $(PY) -m hardware.schematic.build
	$(ENV) $(PY) -m hardware.parts_list
	$(ENV) $(PY) -m hardware.reduced.build
	$(ENV) $(PY) -m hardware.book.build
	$(MAKE) -s -C firmware ready
	$(ENV) $(PY) -m protocol.vectors.make
	$(ENV) $(PY) -m sagbench.vectors.derive
	$(ENV) $(PY) -m sagbench.judge.derive

check: setup     ## derived files are current, the wiring is sane
	$(ENV) $(PY) -m protocol.derive --check
	$(ENV) $(PY) -m hardware.derive --check
	$(ENV) $(PY) -m hardware.schematic.build --check
	$(ENV) $(PY) -m hardware.parts_list --check
	$(ENV) $(PY) -m hardware.reduced.build --check
	$(ENV) $(PY) -m hardware.book.build --check
	$(MAKE) -s -C firmware ready-check
	$(ENV) $(PY) -m protocol.vectors.make --check
	$(ENV) $(PY) -m hardware.check

lint: setup      ## ruff, mypy --strict, cppcheck
	$(PY) -m ruff check host hardware protocol tests firmware
	cd host && ../$(PY) -m mypy --strict sagbench
	$(MAKE) -s -C firmware lint

firmware: setup  ## the real image, by avr-gcc
	@$(MAKE) -s -C firmware elf

virtual: firmware ## the virtual fixture, and the firmware's core for this computer
	@$(MAKE) -s -C firmware pc
	@$(MAKE) -s -C tests/virtual_fixture

demo: virtual    ## two chips in the virtual fixture, one sound, one about to go
	@$(ENV) $(PY) -m demo

test: check virtual ## everything that must hold, within 15 minutes
	$(MAKE) -s -C firmware test
	$(ENV) $(PY) -m pytest -q -n 2 --dist worksteal tests $(LIBRARY:%=--ignore=%) --ignore=tests/hardware/board_kicad

library: virtual ## every property of every part of the library (long)
	$(ENV) $(PY) -m sagbench.vectors.derive --check
	$(ENV) $(PY) -m sagbench.judge.derive --check
	$(ENV) $(PY) -m pytest -q -n 2 --dist worksteal $(LIBRARY)

board:           ## KiCad's check, Gerbers, schematic as PDF, pictures into build/board (installs KiCad, 400 MB)
	@python3 tests/prepare.py board
	/usr/bin/python3 -m hardware.board.fabricate build/board
	$(ENV) $(PY) -m hardware.schematic.paper build/board
	$(ENV) $(PY) -m pytest -q tests/hardware/board_kicad

N ?= 2000
study: virtual   ## N virtual chips, N / 5 fixtures: are uncertainties and verdicts true (N=2000: hours; goes on where it was)
	@$(ENV) $(PY) -m study --chips $(N) --fixtures $$(($(N) / 5))

identify: virtual ## identify a virtual chip of every function (or CHIPS of them), sound and with a bad output, and all on paper (an hour and more; goes on where it was)
	@$(ENV) $(PY) tests/identify_library.py $(if $(CHIPS),--chips $(CHIPS))

twohands: virtual ## the library against the virtual chips: pins, logic tests, and a sweep of each (half an hour; goes on where it was)
	@$(ENV) $(PY) -m two_hands --sweep --workers 2

speed: virtual   ## what time grows with (tests/speed/GROWTH.md), and memory over a box of N chips (N=1000: half an hour)
	@$(ENV) $(PY) -m speed growth
	@$(ENV) $(PY) -m speed memory --chips $(N)

learn: setup     ## learn every function of the library as an unknown part, on paper (half an hour; goes on where it was)
	@$(ENV) $(PY) tests/learn_library.py

faults: virtual  ## faults injected by the thousand: controller, host, line, chips (hours; goes on where it was)
	@$(ENV) $(PY) -m faults

LOGN ?= 1000
logtrials: setup ## LOGN kills of a program that uses the log, LOGN / 4 damaged logs, failing disks (an hour; goes on where it was)
	@$(ENV) $(PY) -m log_trials kills $(LOGN)
	@$(ENV) $(PY) -m log_trials damage $$(($(LOGN) / 4))
	@$(ENV) $(PY) -m log_trials disk

fuzz: N = 10000000
fuzz: virtual    ## N inputs of the firmware's core, N / 10 of the host's readers, N / 10000 spoilt files; clang-tidy (installs clang; goes on where it was)
	@python3 tests/prepare.py fuzz
	@$(MAKE) -s -C firmware tidy
	@$(ENV) $(PY) -m fuzz --files $$(($(N) / 10000)) --host $$(($(N) / 10)) --firmware $(N) --page

MUTANTS ?= 440
mutation: virtual ## MUTANTS small changes to framing, vectors, measure and judge: do tests notice (tests/mutation/RESULT.md; goes on where it was)
	@$(ENV) $(PY) -m mutation --count $(MUTANTS) --page

claims: setup    ## ngspice on the whole circuit: currents, drops, trip, dead-man, settling against their limits (2 minutes)
	@$(ENV) $(PY) -m hardware.spice

figures: virtual ## measure and print `name value unit`
	@$(ENV) $(PY) -m figures

ci: test library lint board claims figures ## what .ci/run calls

clean:           ## remove what was built
	rm -rf build .venv
