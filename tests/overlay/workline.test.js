import assert from "node:assert/strict";
import { test } from "node:test";

import { along, labelled, layOut, roundsOnLine } from "../../overlay/shared/workline.js";
import { AGAIN, FIVE, laneOf } from "./frames.js";

test("every round ends at its cumulative number, the last at the end of the line", () => {
  const { knots } = layOut(FIVE, 5);
  assert.deepEqual(knots.map((knot) => knot.scored), [22, 44, 66, 88, 110]);
  assert.deepEqual(knots.map((knot) => knot.at), [0.2, 0.4, 0.6, 0.8, 1]);
});

test("a station is as long as the time it is expected to take, a block among them", () => {
  const { ticks } = layOut(FIVE, 5);
  assert.equal(ticks.length, 15);
  assert.deepEqual(ticks.slice(0, 3), [15 / 600, 60 / 600, 90 / 600]);
});

test("a lane is where its station and what it has done of it say", () => {
  assert.equal(along(FIVE, laneOf(1), 5), 0);
  const half = laneOf(1, { round: 2, station: 3, station_done: 5, station_amount: 10 });
  assert.equal(along(FIVE, half, 5), (120 + 60 + 15) / 600);
  const done = laneOf(1, { round: 5, station: 4, station_done: 10, station_amount: 10 });
  assert.equal(along(FIVE, done, 5), 1);
});

test("repeating work shows the rounds up to the furthest lane, three at least, and its numbers go on", () => {
  assert.equal(roundsOnLine(AGAIN, [laneOf(1)]), 3);
  assert.equal(roundsOnLine(AGAIN, [laneOf(1, { round: 2 }), laneOf(2, { round: 7 })]), 7);
  assert.deepEqual(layOut(AGAIN, 4).knots.map((knot) => knot.scored), [22, 44, 66, 88]);
  assert.equal(along(AGAIN, laneOf(1, { round: 3 }), 4), 0.5);
});

test("numbers keep their distance, and the last is always among them", () => {
  const { knots } = layOut(AGAIN, 10);
  assert.deepEqual(labelled(knots, 0.25).map((knot) => knot.round), [1, 4, 7, 10]);
  assert.deepEqual(labelled(knots, 0.05).map((knot) => knot.round), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
  assert.deepEqual(labelled(knots, 0.05, 0.15).map((knot) => knot.round), [2, 3, 4, 5, 6, 7, 8, 9, 10], "the unit stands there");
  assert.deepEqual(labelled(knots, 0.05, 2).map((knot) => knot.round), [10], "the last always carries it");
});
