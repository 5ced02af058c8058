import assert from "node:assert/strict";
import { test } from "node:test";

import { figureText, gapText, groups, hasResults, heatTitle, leads, lookOf, placeText, roundText } from "../../overlay/shared/standing.js";
import { AGAIN, FIVE, frameOf, laneOf } from "./frames.js";

test("before the first rep nobody has a place and nobody leads", () => {
  const frame = frameOf([laneOf(1, { place: 1, shared: true }), laneOf(2, { place: 1, shared: true })]);
  assert.equal(placeText(frame, frame.lanes[1]), "");
  assert.equal(leads(frame, frame.lanes[1]), false);
});

test("a shared place says so, and all who share the first lead", () => {
  const frame = frameOf([laneOf(1, { done: 9, place: 1, shared: true }), laneOf(2, { done: 9, place: 1, shared: true })]);
  assert.equal(placeText(frame, frame.lanes[2]), "=1");
  assert.equal(lookOf(frame, frame.lanes[2]), "leading");
});

test("a lane that is out has no place and does not lead, whatever the order says", () => {
  for (const status of ["withdrawn", "did_not_start", "disqualified"]) {
    const frame = frameOf([laneOf(1, { done: 9, place: 1, status, result: "X" })]);
    assert.equal(placeText(frame, frame.lanes[1]), "");
    assert.equal(leads(frame, frame.lanes[1]), false);
    assert.equal(lookOf(frame, frame.lanes[1]), "out");
    assert.equal(figureText(frame.lanes[1]), "X");
  }
});

test("the figure is as announced, without the word for reps", () => {
  const figures = ["45 reps", "1 rep", "11:42.318", "CAP+4", "96 kg", "4 bars + 1", "no lift"];
  assert.deepEqual(figures.map((result) => figureText({ result })), ["45", "1", ...figures.slice(2)]);
});

test("the gap is in reps while a lane works and in time once it has finished", () => {
  const winner = laneOf(1, { status: "finished", finish_ms: 700_000 });
  const frame = frameOf([winner]);
  assert.equal(gapText(frame, winner, winner), "");
  assert.equal(gapText(frame, laneOf(2, { gap_leader: 12 }), winner), "−12");
  assert.equal(gapText(frame, laneOf(2, { status: "finished", finish_ms: 704_399 }), winner), "+4.3 s");
  assert.equal(gapText(frame, laneOf(2, { status: "capped", scored_reps: 106 }), winner), "106 reps");
});

test("in a lift the gap is in load, and who has no lift has none", () => {
  const frame = frameOf([], { event: { ...FIVE, format: "max_load" } });
  assert.equal(gapText(frame, laneOf(2, { gap_leader: 4000, result: "92 kg" }), undefined), "−4 kg");
  assert.equal(gapText(frame, laneOf(2, { gap_leader: 96_000, result: "no lift" }), undefined), "");
});

test("lanes are grouped by division in the order of the competition, and empty divisions left out", () => {
  const divisions = { m: { name: "Men" }, w: { name: "Women" }, x: { name: "Pairs" } };
  const frame = frameOf([laneOf(3), laneOf(1, { division: "m" }), laneOf(2)], { divisions });
  assert.deepEqual(
    groups(frame).map((group) => [group.name, group.lanes.map((lane) => lane.lane)]),
    [
      ["Men", [1]],
      ["Women", [3, 2]],
    ],
  );
});

test("a round is named with how many there are, if there is an end to them; one round is named by its movement", () => {
  assert.equal(roundText(FIVE, laneOf(1, { round: 3 })), "Round 3 of 5");
  assert.equal(roundText(AGAIN, laneOf(1, { round: 3 })), "Round 3");
  const once = { ...FIVE, rounds_a_lap: 1, laps: 1 };
  assert.equal(roundText(once, laneOf(1, { movement: "Snatch" })), "Snatch");
  assert.equal(roundText(once), "Haul");
  const pieces = { ...once, format: "intervals", intervals: { piece_count: 3, work_ms: 60_000, rest_ms: 30_000, counts: "sum", timed: false } };
  const at = (/** @type {number} */ reached_ms) => roundText(/** @type {any} */ (pieces), laneOf(1, { reached_ms }));
  assert.deepEqual([0, 60_000, 90_001, 240_000, 300_000].map(at), ["Piece 1 of 3", "Piece 1 of 3", "Piece 2 of 3", "Piece 3 of 3", "Piece 3 of 3"]);
});

test("a heat is named with its division, unless its name has it as words of its own", () => {
  const named = (name, ...divisions) => heatTitle({ heat: { name }, divisions: Object.fromEntries(divisions.map((each) => [each, { name: each }])) });
  assert.equal(named("Heat 2", "Women"), "Heat 2 · Women");
  assert.equal(named("Women, heat 2", "Women"), "Women, heat 2");
  assert.equal(named("WOMEN 2", "Women"), "WOMEN 2");
  assert.equal(named("Women, heat 2", "Men"), "Women, heat 2 · Men");
  assert.equal(named("Heat 2", "Women", "Men"), "Heat 2");
  assert.equal(named("Heat 2 (a+b)", "a+b"), "Heat 2 (a+b)");
  assert.equal(named("Heat 2", "Équipes"), "Heat 2 · Équipes");
});

test("a count in words needs the room of a result", () => {
  const rows = (result) => ({ lanes: { 1: { status: "working", result } } });
  assert.deepEqual(["45 reps", "1110 reps", "2 bars + 1", "92 kg"].map((result) => hasResults(rows(result))), [false, false, true, true]);
});
