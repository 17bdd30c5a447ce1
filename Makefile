# Every target is one readable command.
.PHONY: build test race lint fuzz explore golden demo bench ci gen kill calibrate figures

build: ; go build -trimpath -o forecastd ./cmd/forecastd
test: ; go test ./...
race: ; go test -race ./...
lint: ; .ci/lint
fuzz: ; .ci/fuzz 5s
# The rules that hold for all inputs, over fifty times as many drawn cases.
explore: ; go test -timeout 60m $$(git grep -l pgregory.net/rapid -- '*_test.go' | xargs -n1 dirname | sort -u | sed 's|^|./|') -rapid.checks=5000
golden: figures ; go test ./internal/... ./cmd/... -run 'Golden|Plots' -update
kill: ; FORECASTD_KILL_ROUNDS=200 go test ./internal/app -run TestKilledAtAnyInstant -count 1 -v -timeout 20m
demo: ; go run ./cmd/forecastd call -demo
bench: ; go test -run '^$$' -bench . ./internal/models/... ./internal/scoring ./internal/fetch/grib2/... ./internal/fetch/nws
gen: ; go run ./cmd/demogen
# Two thousand days of an invented world, to see whether a call can be taken at its word.
calibrate: ; FORECASTD_CALIBRATE=1 go test ./internal/scoring -run TestACallCanBeTakenAtItsWord -count 1 -v -timeout 30m
figures: ; go run ./cmd/figures
ci: ; bash .ci/run
