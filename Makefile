# Every command of the project. `make help` lists them.
# The toolkit's own switch that all of its callbacks run on one thread.
WINDOW_TAGS := migrated_fynedo
PURE := ./mesh/... ./deviation/... ./app/... ./cmd/shutcheck/...
FUZZTIME ?= 5m
SEEDS ?= 1 2 3
SIZES ?= 300000 2000000
PORTABLE_SIZE ?= 60000
RUNS ?= 100
SEED ?= 0

# The toolkit cannot parse the locales C and C.UTF-8 and says so on standard error.
export LANG := en_US.UTF-8
unexport LC_ALL

.PHONY: help demo test check lint race fuzz bench frames portable goals-main goals-placement goals-dented goals-stations goals-seams goals-trust goals-stop goals-memory build shutcheck golden package clean

help: ## list the commands
	@grep -E '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*##/\t/' | expand -t 16

demo: ## set up, build, and open the window on the demo job (headless without a display)
	@.ci/setup window
	@$(MAKE) --no-print-directory build
	@.ci/demo

build: shutcheck ## build both programs into bin/
	@echo "build: bin/shutline (the first build of the toolkit takes a few minutes)"
	@CGO_ENABLED=1 go build -trimpath -tags $(WINDOW_TAGS) -o bin/shutline ./cmd/shutline

shutcheck: ## build the headless command alone; needs no C compiler
	@echo "build: bin/shutcheck"
	@CGO_ENABLED=0 go build -trimpath $$(test "$$(go env GOOS GOARCH | tr -d '\n')" = linuxamd64 && echo -ldflags=-E=shutcheck_entry) -o bin/shutcheck ./cmd/shutcheck

test: ## set up, then run every test, the real window's included
	@.ci/setup test
	@$(MAKE) --no-print-directory check
	CGO_ENABLED=0 go test -timeout 60m $(PURE)
	CGO_ENABLED=1 go test -timeout 60m -trimpath -tags $(WINDOW_TAGS) ./cmd/shutline/...

check: ## formatting, vet, arrows between packages
	@files=$$(gofmt -l app assets cmd deviation mesh); if [ -n "$$files" ]; then echo "not formatted with gofmt:"; echo "$$files"; exit 1; fi
	CGO_ENABLED=0 go vet $(PURE)

lint: ## staticcheck, pinned in .ci/tools.mod
	CGO_ENABLED=0 go tool -modfile=.ci/tools.mod staticcheck $(PURE)

race: ## the tests of the toolkit-free packages under the race detector
	CGO_ENABLED=1 go test -race ./mesh/... ./deviation/... ./app

fuzz: ## every fuzz target for FUZZTIME each
	@.ci/fuzz $(FUZZTIME)

bench: ## benchmarks; PEERS=DIR also measures general-purpose libraries in the same run
	@.ci/bench "$(PEERS)"

frames: build ## how fast pictures are drawn; PEERS=DIR also measures Mesa's software OpenGL in turn
	@.ci/setup frames
	@CGO_ENABLED=0 go run ./cmd/frames -peers "$(PEERS)" -window bin/shutline $(FRAMES)

portable: ## the demo's results on other processors, emulated, and with 1 and 2 threads: the same bytes
	@.ci/setup portable
	@.ci/portable $(PORTABLE_SIZE)

goals-main: shutcheck ## the goals of the main job over SEEDS and SIZES, as a table
	CGO_ENABLED=0 go run ./cmd/goals -seeds "$(SEEDS)" -sizes "$(SIZES)"

goals-placement: ## the goals of the placement on RUNS random scans a cell from SEED (0: drawn); more flags in PLACEMENT
	CGO_ENABLED=0 go run ./cmd/goals placement -runs $(RUNS) -seed $(SEED) $(PLACEMENT)

goals-dented: ## a damaged part placed by least squares and by ours; OUT=DIR draws what is left
	CGO_ENABLED=0 go run ./cmd/goals dented -seed $(or $(filter-out 0,$(SEED)),1) $(if $(OUT),-out $(OUT))

goals-seams: ## every goal of seams over SEEDS: drawn at random, re-scanned, gone wrong, found and traced, how fast; SEAMS="-what NAME" for one part
	CGO_ENABLED=0 go run ./cmd/goals seams -seeds "$(SEEDS)" $(SEAMS)

goals-stations: ## try stations on every kind of seam over SEEDS; STATIONS="-each -only TEXT" for single kinds
	CGO_ENABLED=0 go run ./cmd/goals stations -seeds "$(SEEDS)" $(STATIONS)

goals-trust: ## the goals of the trust in a scan on RUNS random scans a cell from SEED (0: drawn); TRUST="-what NAME" for one part
	CGO_ENABLED=0 go run ./cmd/goals trust -runs $(if $(filter 100,$(RUNS)),20,$(RUNS)) -seed $(SEED) $(TRUST)

goals-stop: ## how soon every long work lets go when it is told to stop; STOP="-what NAME" for one
	CGO_ENABLED=0 go run ./cmd/goals stop $(STOP)

goals-memory: ## the most memory that reading, opening and inspecting take, for each triangle and format, beside what is refused
	CGO_ENABLED=0 go run ./cmd/goals memory $(MEMORY)

golden: ## rewrite the golden files; look at the difference before you commit
	CGO_ENABLED=0 go test ./deviation/... ./app/... ./cmd/shutcheck/... -run Golden -update

package: ## what is handed out, into dist/: the window for Linux and Windows, the headless command for six platforms, checksums
	@.ci/setup package
	@.ci/package

clean: ## remove what was built and written here
	rm -rf bin demo dist results
