// A month of tides by @neaps/tide-predictor, from one station's public NOAA
// constants: heights about mean sea level every 3 hours, and high and low
// waters. The library takes node factors at each instant, not at mid-year.
import { createTidePredictor } from "@neaps/tide-predictor";
import { readFileSync, writeFileSync } from "node:fs";

const [station, out] = process.argv.slice(2);
const data = JSON.parse(readFileSync(station, "utf8"));
const predictor = createTidePredictor(data.harmonic_constituents, { offset: 0 });
const start = new Date("2026-01-01T00:00:00Z"), end = new Date("2026-02-01T00:00:00Z");

let text = "time,height_m\n";
for (const p of predictor.getTimelinePrediction({ start, end, timeFidelity: 10800 })) {
  text += `${p.time.toISOString().slice(0, 19)}Z,${p.level.toFixed(4)}\n`;
}
writeFileSync(out + "/predictor-heights.csv", text);

text = "time,kind,height_m\n";
for (const p of predictor.getExtremesPrediction({ start, end })) {
  text += `${p.time.toISOString().slice(0, 19)}Z,${p.high ? "high" : "low"},${p.level.toFixed(4)}\n`;
}
writeFileSync(out + "/predictor-extremes.csv", text);
