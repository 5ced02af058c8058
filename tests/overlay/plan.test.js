import assert from "node:assert/strict";
import { test } from "node:test";
import * as plan from "../../overlay/shared/plan.js";
import { eventOf } from "./events.js";

/** One haul, forty touches credited as one, ten and ten (common practice, no source). */
const ROUND = [
  { movement: "sled haul", amount: 1 },
  { movement: "shuttle touch", amount: 40, credit: "block" },
  { movement: "swing", amount: 10 },
  { movement: "step-over", amount: 10 },
];
const FIVE_ROUNDS = eventOf([ROUND, ROUND, ROUND, ROUND, ROUND], { laps: 1 });
const AMRAP = eventOf([ROUND], {});

test("five rounds of 1, a block credited as one, 10 and 10 end at 22, 44, 66, 88, 110 (common practice, no source)", () => {
  const ends = [1, 2, 3, 4, 5].map((round) => plan.scored(FIVE_ROUNDS, round * 61));
  assert.deepEqual(ends, [22, 44, 66, 88, 110]);
});

test("a block is worth nothing until it is complete", () => {
  assert.equal(plan.scored(FIVE_ROUNDS, 1 + 39), 1);
  assert.equal(plan.scored(FIVE_ROUNDS, 1 + 40), 2);
});

test("the position names the station, what is done of it and the next cumulative numbers", () => {
  const at = plan.position(FIVE_ROUNDS, 61 + 41 + 3);
  assert.equal(at.leg.movement, "swing");
  assert.deepEqual([at.round, at.station_done, at.scored, at.next_mark, at.round_mark], [2, 3, 27, 34, 44]);
});

test("the end of the block in progress is known, and only inside a block", () => {
  assert.equal(plan.blockEnd(FIVE_ROUNDS, 0), undefined);
  assert.equal(plan.blockEnd(FIVE_ROUNDS, 1), 41);
  assert.equal(plan.blockEnd(FIVE_ROUNDS, 40), 41);
  assert.equal(plan.blockEnd(FIVE_ROUNDS, 41), undefined);
});

test("fixed work ends, and its last position is the last station, complete", () => {
  assert.equal(plan.isComplete(FIVE_ROUNDS, 304), false);
  assert.equal(plan.isComplete(FIVE_ROUNDS, 305), true);
  assert.equal(plan.clampDone(FIVE_ROUNDS, 306), 305);
  const at = plan.position(FIVE_ROUNDS, 305);
  assert.deepEqual([at.round, at.leg.station, at.station_done, at.scored], [5, 4, 10, 110]);
});

test("rounds that repeat have no end", () => {
  assert.equal(plan.isComplete(AMRAP, 1_000_000), false);
  assert.equal(plan.clampDone(AMRAP, 1_000_000), 1_000_000);
  assert.equal(plan.scored(AMRAP, 61 * 7 + 1), 155);
  assert.equal(plan.position(AMRAP, 61 * 7).round, 8);
});

test("a count never falls below 0", () => {
  assert.equal(plan.clampDone(FIVE_ROUNDS, -1), 0);
});
