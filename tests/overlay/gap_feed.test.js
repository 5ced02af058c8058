import assert from "node:assert/strict";
import { test } from "node:test";

import { createFeed } from "../../overlay/gaps/feed.js";
import { cellTexts, detailText, meaningOf, roundTimes } from "../../overlay/gaps/words.js";
import { AGAIN, frameOf, laneOf } from "./frames.js";

const FINISHED = { finish_ms: 700_000, reached_ms: 700_000, result: "11:40.000", status: "finished" };

/** The lines as "m:ss text" without the marks that set names apart, newest first. */
function read(lines) {
  return lines.map(({ at_ms, text }) => `${at_ms / 1000} ${text.replace(/[\u2068\u2069]/g, "")}`);
}

test("rounds and finishes are read off one frame, the newest first", () => {
  const frame = frameOf([
    laneOf(2, { done: 400, round: 5, splits: { "1.4": 130_000, "2.4": 260_000 }, ...FINISHED }),
    laneOf(1, { done: 90, round: 2, splits: { "1.4": 120_000 } }),
  ]);
  assert.deepEqual(read(createFeed()(frame, 710_000)), [
    "700 N2 finishes: 11:40.000",
    "260 N2 first through round 2 (44)",
    "120 N1 first through round 1 (22)",
    "0 Heat started",
  ]);
});

test("a heat started at zero, also where a rehearsal that was stopped counts from later", () => {
  const frame = frameOf([laneOf(1, { done: 5 })]);
  const stopped = { ...frame, clock: { ...frame.clock, zero_at_ms: 559_000 } };
  assert.deepEqual(read(createFeed()(stopped, 559_000)), ["0 Heat started"]);
});

test("a corrected count takes its line back", () => {
  const feed = createFeed();
  feed(frameOf([laneOf(1, { done: 82, round: 2, splits: { "1.4": 120_000 } })]), 121_000);
  assert.deepEqual(read(feed(frameOf([laneOf(1, { done: 81 })]), 122_000)), ["0 Heat started"]);
});

test("a change of the lead is told once, with the time of the rep that made it, and not while it is shared", () => {
  const feed = createFeed();
  const one = (reps) => laneOf(1, { done: reps, scored_reps: reps, reached_ms: reps * 1000 });
  const two = (reps) => laneOf(2, { done: reps, scored_reps: reps, reached_ms: reps * 1000 });
  feed(frameOf([one(9), two(8)]), 9_000);
  feed(frameOf([{ ...one(9), shared: true }, { ...two(9), shared: true }]), 9_500);
  feed(frameOf([two(10), one(9)]), 10_000);
  const lines = read(feed(frameOf([two(11), one(9)]), 11_000));
  assert.deepEqual(lines, ["10 N2 takes the lead with 10 reps", "0 Heat started"]);
});

test("changes of the lead from before the page was opened come with the frame", () => {
  const leads = [
    { lane: 1, at_ms: 1_000, scored_reps: 1, first: true },
    { lane: 2, at_ms: 9_000, scored_reps: 9, first: false },
    { lane: 7, at_ms: 9_500, scored_reps: 10, first: false },
  ];
  const frame = { ...frameOf([laneOf(2, { done: 9 }), laneOf(1, { done: 8 })]), leads };
  assert.deepEqual(read(createFeed()(frame, 20_000)), ["9 N2 takes the lead with 9 reps", "1 N1 leads with 1 rep", "0 Heat started"]);
});

test("pieces with rest between have no rounds to be first through", () => {
  const event = { ...frameOf([]).event, format: "intervals" };
  const lane = laneOf(1, { done: 90, round: 2, splits: { "1.4": 120_000 } });
  assert.deepEqual(read(createFeed()(frameOf([lane], { event }), 130_000)), ["0 Heat started"]);
});

test("a withdrawal is told at its time, or at the clock it was seen at, and taken back if it was struck out", () => {
  const feed = createFeed();
  feed(frameOf([laneOf(1, { done: 5 })]), 5_000);
  const out = laneOf(1, { done: 5, scored_reps: 5, status: "withdrawn", result: "WD" });
  assert.deepEqual(read(feed(frameOf([out]), 6_000)), ["6 N1 withdraws, 5 reps done", "0 Heat started"]);
  assert.deepEqual(read(feed(frameOf([laneOf(1, { done: 5 })]), 7_000)), ["0 Heat started"]);
  const timed = laneOf(1, { status: "withdrawn", result: "WD", withdrawn_ms: 4_000 });
  assert.equal(read(feed(frameOf([timed]), 8_000))[0], "4 N1 withdraws, 0 reps done");
});

test("the end is the cap or the officials' call", () => {
  const heat = { id: "h1", name: "Heat 1", status: "over" };
  assert.equal(read(createFeed()(frameOf([laneOf(1)], { heat }), 900_000))[0], "900 Time cap");
  const clock = { cap_ms: 900_000, zero_unix_ms: 0, ended_ms: 450_000 };
  assert.equal(read(createFeed()(frameOf([laneOf(1)], { heat, clock }), 450_000))[0], "450 Heat ended by the officials");
});

test("another heat begins an empty feed", () => {
  const feed = createFeed();
  feed(frameOf([laneOf(1, { done: 1 }), laneOf(2)]), 1_000);
  feed(frameOf([laneOf(2, { done: 2 }), laneOf(1)]), 2_000);
  const heat = { id: "h2", name: "Heat 2", status: "waiting" };
  assert.deepEqual(feed(frameOf([laneOf(1)], { heat, clock: { cap_ms: 1 } }), 0), []);
});

test("a rehearsal that jumps back forgets the changes of the lead that it had come to", () => {
  const feed = createFeed();
  const early = [laneOf(1, { done: 1 }), laneOf(2)];
  feed(frameOf(early, { jumps: 1 }), 1_000);
  const leads = feed(frameOf([laneOf(2, { done: 2 }), laneOf(1, { done: 1 })], { jumps: 1 }), 2_000);
  assert.equal(leads.filter(({ kind }) => kind === "lead").length, 1);
  assert.deepEqual(feed(frameOf(early, { jumps: 2 }), 1_000).filter(({ kind }) => kind === "lead"), []);
});

test("the next number says what it is the end of", () => {
  const frame = frameOf([laneOf(1)]);
  assert.equal(meaningOf(frame, laneOf(1, { next_mark: 44, round_mark: 44, round: 2 })), "end of round 2");
  assert.equal(meaningOf(frame, laneOf(1, { next_mark: 34, round_mark: 44, round: 2, movement: "Snatch" })), "snatch");
  assert.equal(meaningOf(frame, laneOf(1, { next_mark: 110, round_mark: 110, round: 5 })), "finish");
});

test("in a lift it is the attempt that is on, and gaps are in load", () => {
  const event = { ...frameOf([]).event, format: "max_load" };
  const lane = laneOf(2, { done: 1, station_done: 1, station_amount: 3, gap_leader: 2500, result: "93.5 kg" });
  const cells = cellTexts(frameOf([laneOf(1, { done: 1 }), lane], { event }), lane);
  assert.equal(cells.meaning, "attempt 2 of 3");
  assert.equal(cells.next, "");
  assert.equal(cells["leader-reps"], "−2.5 kg");
  assert.equal(cells.figure, "93.5 kg");
});

test("reps to the next number are counted at the station, whatever a penalty took off", () => {
  const lane = laneOf(1, { done: 65, scored_reps: 1, station_done: 4, station_amount: 10, credit: "unit" });
  assert.equal(cellTexts(frameOf([lane]), lane)["to-next"], 6);
  const touches = laneOf(1, { done: 1, station_done: 0, station_amount: 40, credit: "block" });
  assert.equal(cellTexts(frameOf([touches]), touches)["to-next"], 1);
});

test("gaps are those the server gives, and nothing is made up where it gives none", () => {
  const lane = laneOf(2, { done: 5, gap_leader: 3, behind: { leader: { lane: 1, reps: 3, work_ms: 0, ms: 12_345, precision: "exact" } } });
  const cells = cellTexts(frameOf([laneOf(1, { done: 9 }), lane]), lane);
  assert.equal(cells["leader-reps"], "−3");
  assert.equal(cells["leader-time"], "+12.3 s");
  assert.equal(cells["ahead-time"], "");
});

test("round times are differences of the marks, and go on over laps", () => {
  const lane = laneOf(1, { round: 3, splits: { "1.4": 100_000, "2.4": 210_000 } });
  assert.deepEqual(roundTimes(frameOf([lane], { event: AGAIN }), lane), [100_000, 110_000]);
  assert.match(detailText(frameOf([lane]), lane), /rounds 1: 1:40 · 2: 1:50$/);
});
