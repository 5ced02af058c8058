import assert from "node:assert/strict";
import { test } from "node:test";
import { laneRow, resultWords, stallMs } from "../../overlay/table/rows.js";
import { frameOf } from "./events.js";

const row = (lane, clockMs) => {
  const frame = frameOf({ 4: { reached_ms: 0, remarks: 0, ...lane } });
  return laneRow(frame, frame.lanes[4], clockMs);
};

test("a row names lane, athlete, count, station and place", () => {
  const { lane, name, count, station, into, next, place } = row({ done: 7, place: 2, shared: true });
  assert.deepEqual([lane, name], ["4", "Entry 4"]);
  assert.deepEqual([count, station, into, next, place], ["4", "swing", "2 of 10 reps", "12", "=2"]);
});

test("a row names the division where the heat has several", () => {
  const frame = frameOf({ 4: { reached_ms: 0, remarks: 0 } });
  assert.equal(laneRow(frame, frame.lanes[4], 0).division, "");
  const two = { ...frame, divisions: { ...frame.divisions, m: { name: "Men" } } };
  assert.equal(laneRow(two, two.lanes[4], 0).division, "Women");
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

test("where the server knows when a lane has stalled that counts, and not the time that the station is expected to take", () => {
  const frame = { ...frameOf({ 4: { reached_ms: 0, remarks: 0, done: 7 } }), pads: { 4: { devices: [], stalled_after_ms: 40_000 } } };
  const stalled = (at) => laneRow(frame, frame.lanes[4], at).stalled;
  assert.deepEqual([18_000, 39_999, 40_000].map(stalled), [false, false, true]);
  frame.pads[4].stalled_after_ms = 3000;
  assert.deepEqual([14_999, 15_000].map(stalled), [false, true]);
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
  assert.match(resultWords({ ...result, unchecked: [1, 2, 4, 5, 6, 9] }), /lane 1, 2, 4–6, 9$/);
  assert.match(resultWords({ ...result, stage: "provisional", changed: true }), /^Changed since it was signed/);
  assert.equal(resultWords({ ...result, stage: "official", signed_by: "A. Judge" }), "Official: signed by A. Judge");
  assert.equal(resultWords({ ...result, stage: "amended", signed_by: "A. Judge" }), "Amended: signed by A. Judge");
});

/** The row of lane 4 in an event with rules of its own. */
const ruled = (rules, lane, clockMs) => {
  const frame = frameOf({ 4: { reached_ms: 0, remarks: 0, done: 7, ...lane } });
  return laneRow({ ...frame, event: { ...frame.event, ...rules } }, frame.lanes[4], clockMs);
};

test("a row says what the format has of its own", () => {
  const attempts = [{ load_milli: 92_500, made: true }, { load_milli: 95_000 }];
  assert.equal(ruled({ format: "max_load", lifting: { attempts_most: 3 } }, { attempts }).into, "2 of 3 attempts · 92.5 ✓  95 …");
  assert.equal(ruled({ format: "intervals", intervals: {} }, { pieces: [12, 9, 0] }).into, "2 of 10 reps · pieces 12, 9, 0");
  assert.equal(ruled({ team: { form: "relay" } }, { member: 2 }).into, "2 of 10 reps · turn 2");
  assert.equal(ruled({ team: { form: "synchro" } }, { members: [8, 7] }).into, "2 of 10 reps · by member 8, 7");
});

test("nobody stalls between lifts or in a rest, and a piece's time counts from its start", () => {
  const intervals = { work_ms: 60_000, rest_ms: 30_000 };
  assert.equal(ruled({ format: "max_load", lifting: {} }, {}, 300_000).since, "");
  assert.deepEqual([59_000, 61_000, 95_000].map((at) => ruled({ format: "intervals", intervals }, { reached_ms: 50_000 }, at).since), ["0:09", "", "0:05"]);
});
