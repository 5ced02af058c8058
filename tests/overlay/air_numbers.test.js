import assert from "node:assert/strict";
import { test } from "node:test";

import { gapLines, heightMs } from "../../overlay/air/chart.js";
import { lastGap, roundTimes } from "../../overlay/air/marks.js";
import { neededMs, widthMs } from "../../overlay/air/need.js";
import { formatText, stationCard } from "../../overlay/air/stations.js";
import { apart } from "../../overlay/air/words.js";
import { eventOf } from "./events.js";
import { AGAIN, FIVE, frameOf, laneOf } from "./frames.js";

const WOMEN = { w: { name: "Women" } };

test("a gap in time is taken at the last mark both have passed, with the number there", () => {
  const first = { splits: { 1.1: 10_000, 1.4: 120_000, 2.1: 130_000 } };
  const second = { splits: { 1.1: 9_000, 1.4: 124_300 } };
  assert.deepEqual(lastGap(FIVE, first, second), { scored: 22, ms: 4_300 });
  assert.equal(lastGap(FIVE, first, { splits: {} }), undefined);
});

test("rounds have the time they took and their end on the line", () => {
  const lane = { splits: { 1.4: 120_000, 2.4: 250_000, 3.1: 262_000 } };
  const times = roundTimes(FIVE, lane, 5);
  assert.deepEqual(times.map(({ round, took_ms }) => [round, took_ms]), [[1, 120_000], [2, 130_000]]);
  assert.ok(Math.abs(times[1].at - 0.4) < 1e-9);
});

test("two lanes are apart in reps and in time at a mark, in time alone when both are home, level when they are", () => {
  const [ahead, behind] = [laneOf(1, { done: 1, splits: { 1.4: 120_000 } }), laneOf(2, { gap_leader: 3, splits: { 1.4: 124_300 } })];
  const frame = frameOf([ahead, behind]);
  assert.deepEqual(apart(frame, ahead, behind), { score: "3 reps", time: "4.3 s at 22" });
  assert.equal(apart(frame, ahead, { ...behind, gap_leader: 0 }).score, "level");
  const home = (finish_ms) => ({ status: "finished", finish_ms });
  assert.deepEqual(apart(frame, { ...ahead, ...home(600_000) }, { ...behind, ...home(675_000) }), { score: "1:15.0", time: "" });
  assert.deepEqual(apart(frame, ahead, { ...behind, status: "withdrawn" }), { score: "", time: "" });
});

test("the rest of the work takes as long as it took so far, in proportion", () => {
  // Two rounds of five in 300 s: the other three take 450 s.
  const lane = laneOf(1, { done: 1, round: 3, station: 1, station_done: 0, reached_ms: 300_000, reps_to_go: 66 });
  assert.ok(Math.abs(neededMs(frameOf([lane]), lane) - 450_000) < 1);
  for (const given of [{ status: "finished" }, { round: 1 }, { reps_to_go: undefined }]) {
    assert.equal(neededMs(frameOf([lane]), { ...lane, ...given }), undefined);
  }
  assert.deepEqual([0, 30_000, 95_000, 5_000_000].map(widthMs), [30_000, 30_000, 120_000, 5_000_000]);
});

test("the chart begins level and gives every mark its distance from the first there", () => {
  const lanes = [{ splits: { 1.1: 10_000, 1.2: 60_000 } }, { splits: { 1.1: 12_000, 1.2: 58_000, 1.3: 90_000 } }];
  const lines = gapLines(FIVE, lanes, 5);
  assert.deepEqual(lines.map((line) => line.map((point) => point.ms)), [[0, 0, 2_000], [0, 2_000, 0, 0]]);
  assert.ok(Math.abs(lines[0][1].x - 15 / 600) < 1e-9);
  assert.deepEqual([heightMs(lines), heightMs([[{ ms: 61_000 }]])], [10_000, 90_000]);
});

test("rounds alike share rows and have the cumulative numbers side by side", () => {
  const card = stationCard(frameOf([], { event: FIVE, divisions: WOMEN }));
  assert.deepEqual(card.heads, ["round 1", "round 2", "round 3", "round 4", "round 5"]);
  assert.deepEqual(card.rows.map((row) => row.ends.join(" ")), ["1 23 45 67 89", "2 24 46 68 90", "12 34 56 78 100", "22 44 66 88 110"]);
  assert.equal(formatText(FIVE), "For time · 5 rounds");
  assert.deepEqual(stationCard(frameOf([], { event: AGAIN })).rows[3].ends, ["22", "44", "66"]);
});

test("amounts that change from round to round are read in one breath, and loads name their division when they differ", () => {
  const swing = { movement: "Swing", loads: { w: "16 kg", m: "24 kg" } };
  const event = eventOf([21, 15, 9].map((amount) => [{ ...swing, amount }]), { laps: 1 });
  const [row] = stationCard(frameOf([], { event, divisions: { ...WOMEN, m: { name: "Men" } } })).rows;
  assert.deepEqual(row, { movement: "Swing", amount: "21·15·9", loads: "Women 16 kg · Men 24 kg", ends: ["21", "36", "45"] });
  assert.equal(stationCard(frameOf([], { event, divisions: WOMEN })).rows[0].loads, "16 kg");
});

test("rounds of their own follow each other, each station with the number at its end", () => {
  const event = eventOf([[{ movement: "Row", amount: 40, unit: "calories" }], [{ movement: "Lunge", amount: 30 }]], { laps: 1 });
  const { heads, rows } = stationCard(frameOf([], { event }));
  assert.deepEqual([heads, rows.map((row) => [row.amount, row.ends[0]])], [["at"], [["40 calories", "40"], ["30", "70"]]]);
});
