# Every target is one readable command.
.PHONY: build test race lint fuzz golden demo bench ci gen kill

build: ; go build -trimpath -o forecastd ./cmd/forecastd
test: ; go test ./...
race: ; go test -race ./...
lint: ; .ci/lint
fuzz: ; .ci/fuzz 5s
golden: ; go test ./internal/... ./cmd/... -run 'Golden|Plots' -update
kill: ; FORECASTD_KILL_ROUNDS=200 go test ./internal/app -run TestKilledAtAnyInstant -count 1 -v -timeout 20m
demo: ; go run ./cmd/forecastd call -demo
bench: ; go test -run '^$$' -bench . ./internal/models/... ./internal/scoring ./internal/fetch/grib2/...
gen: ; go run ./internal/demo/gen
ci: ; bash .ci/run
