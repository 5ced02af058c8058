import assert from "node:assert/strict";
import { test } from "node:test";

import { figureText, gapText, groups, leads, lookOf, placeText, roundText } from "../../overlay/shared/standing.js";
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

test("who is out has no place and does not lead, whatever the order says", () => {
  for (const status of ["withdrawn", "did_not_start", "disqualified"]) {
    const frame = frameOf([laneOf(1, { done: 9, place: 1, status, result: "X" })]);
    assert.equal(placeText(frame, frame.lanes[1]), "");
    assert.equal(leads(frame, frame.lanes[1]), false);
    assert.equal(lookOf(frame, frame.lanes[1]), "out");
    assert.equal(figureText(frame.lanes[1]), "X");
  }
});

test("the figure is the count, then the time or what was left", () => {
  assert.equal(figureText(laneOf(1, { scored_reps: 45 })), "45");
  assert.equal(figureText(laneOf(1, { status: "finished", finish_ms: 702_318 })), "11:42.318");
  assert.equal(figureText(laneOf(1, { status: "finished", finish_ms: 702_399 }), 1), "11:42.3");
  assert.equal(figureText(laneOf(1, { status: "capped", result: "CAP+4", scored_reps: 106 })), "CAP+4");
});

test("the gap is in reps while a lane works and in time once it has finished", () => {
  const winner = laneOf(1, { status: "finished", finish_ms: 700_000 });
  assert.equal(gapText(winner, winner), "");
  assert.equal(gapText(laneOf(2, { gap_leader: 12 }), winner), "−12");
  assert.equal(gapText(laneOf(2, { status: "finished", finish_ms: 704_399 }), winner), "+4.3 s");
  assert.equal(gapText(laneOf(2, { status: "capped", scored_reps: 106 }), winner), "106 reps");
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

test("a round is named with how many there are, if there is an end to them", () => {
  assert.equal(roundText(FIVE, 3), "Round 3 of 5");
  assert.equal(roundText(AGAIN, 3), "Round 3");
});
