import assert from "node:assert/strict";
import { test } from "node:test";
import { laneRow, resultWords, stallMs } from "../../overlay/table/rows.js";
import { frameOf } from "./events.js";

const row = (lane, clockMs) => {
  const frame = frameOf({ 4: { reached_ms: 0, remarks: 0, ...lane } });
  return laneRow(frame, frame.lanes[4], clockMs);
};

test("a row names lane, athlete, count, station and place", () => {
  const { lane, name, division, count, station, into, next, place } = row({ done: 7, place: 2, shared: true });
  assert.deepEqual([lane, name, division], ["4", "Entry 4", "Women"]);
  assert.deepEqual([count, station, into, next, place], ["4", "swing", "2 of 10 reps", "12", "2="]);
});

test("no-reps and remarks stay empty until there is one", () => {
  assert.deepEqual([row({}).noReps, row({}).remarks], ["", ""]);
  assert.deepEqual([row({ no_reps: 2 }).noReps, row({ remarks: 1 }).remarks], ["2", "1"]);
});

test("the time since the last rep runs while the lane works", () => {
  assert.equal(row({ done: 7, reached_ms: 60_000 }, 72_500).since, "0:12");
  assert.equal(row({ done: 7, reached_ms: 60_000, status: "finished", result: "1:00.000" }, 72_500).since, "");
  assert.equal(row({ done: 0 }, undefined).since, "");
});

test("a lane without a rep for six times the expected time of one is stalled, but never within fifteen seconds", () => {
  assert.equal(stallMs({ credit: "unit", amount: 10, expected_ms: 30_000 }), 18_000);
  assert.equal(stallMs({ credit: "unit", amount: 10, expected_ms: 10_000 }), 15_000);
  assert.deepEqual([17_999, 18_000].map((at) => row({ done: 7 }, at).stalled), [false, true]);
});

test("a block or a single rep gives no sign until it is done, so it stalls at half again its expected time", () => {
  assert.equal(stallMs({ credit: "block", amount: 60, expected_ms: 30_000 }), 45_000);
  assert.equal(stallMs({ credit: "unit", amount: 1, expected_ms: 20_000 }), 30_000);
});

test("a result stands as announced, a state in words", () => {
  assert.equal(row({ status: "finished", result: "1:04.230", finish_ms: 64_230 }).state, "1:04.230");
  assert.equal(row({ status: "capped", result: "CAP+3" }).state, "CAP+3");
  assert.equal(row({ status: "did_not_start" }).state, "did not start");
});

test("hold, penalties and the checked sheet stand beside the state", () => {
  const lane = { held: true, checked: true, penalties: [{ reps: 2, ms: 0, reason: "r" }, { reps: 0, ms: 5000, reason: "r" }] };
  assert.equal(row(lane).flags, "medical hold, −2 reps, +5 s, sheet agrees");
  assert.equal(row({}).flags, "");
});

test("how far the result is stands in words, and what is missing for it", () => {
  const result = { stage: "live", digest: "d", unchecked: [1, 3], changed: false };
  assert.match(resultWords(undefined), /^Unofficial/);
  assert.equal(resultWords(result), "Unofficial until the head judge signs. Sheets to compare: lane 1, 3");
  assert.match(resultWords({ ...result, stage: "provisional", changed: true }), /^Changed since it was signed/);
  assert.equal(resultWords({ ...result, stage: "official", signed_by: "A. Judge" }), "Official: signed by A. Judge");
  assert.equal(resultWords({ ...result, stage: "amended", signed_by: "A. Judge" }), "Amended: signed by A. Judge");
});
