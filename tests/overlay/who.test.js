import assert from "node:assert/strict";
import { test } from "node:test";

import { createPick, FOLLOW_MS, lanesOf } from "../../overlay/air/who.js";
import { frameOf, laneOf } from "./frames.js";

const numbers = (lanes) => lanes.map((lane) => lane.lane);
const working = (lane, given = {}) => laneOf(lane, { done: 10, scored_reps: 10, ...given });

test("a lane, an entry, a place, the leader, a battle and who came in last are found", () => {
  const home = { status: "finished", finish_ms: 1, reached_ms: 700_000 };
  const frame = frameOf([working(3, home), working(1, { ...home, reached_ms: 710_000 }), working(2)]);
  const found = ["2", "lane:2", "entry:e1", "leader", "place:2", "battle:2", "finisher", "leader,lane:3,2"];
  assert.deepEqual(found.map((who) => numbers(lanesOf(frame, who))), [[2], [2], [1], [3], [1], [1, 2], [1], [3, 2]]);
});

test("a subject that is not there is nobody: a held lane, a place beyond the last, anything unknown", () => {
  const frame = frameOf([working(3), working(1)]);
  for (const who of ["lane:2", "place:3", "battle:2", "entry:x", "finisher", "fastest", "", "nonsense:1"]) {
    assert.deepEqual(lanesOf(frame, who), [], who);
  }
});

test("before the first rep nobody leads, but lanes can be named", () => {
  const frame = frameOf([laneOf(1), laneOf(2)]);
  assert.deepEqual([numbers(lanesOf(frame, "leader")), numbers(lanesOf(frame, "lane:2"))], [[], [2]]);
});

test("places are those of the lowest lane's division, or of the one named", () => {
  const divisions = { w: { name: "Women" }, m: { name: "Men" } };
  const frame = frameOf([working(4, { division: "m" }), working(1), working(2)], { divisions });
  assert.deepEqual(["leader", "leader@m", "place:2@w"].map((who) => numbers(lanesOf(frame, who))), [[1], [4], [2]]);
});

test("a card stays with one athlete for a while, and goes at once with the lane or the heat", () => {
  let now = 0;
  const pick = createPick("leader", () => now);
  const [first, second] = [frameOf([working(1), working(2)]), frameOf([working(2), working(1)])];
  assert.deepEqual(numbers(pick(first)), [1]);
  now = FOLLOW_MS - 1;
  assert.deepEqual(numbers(pick(second)), [1]);
  now = FOLLOW_MS;
  assert.deepEqual(numbers(pick(second)), [2]);
  assert.deepEqual(numbers(pick(frameOf([working(1)]))), [1]);
  const other = { heat: { id: "h2", name: "Heat 2", status: "running" } };
  assert.deepEqual(numbers(pick(frameOf([working(3), working(1)], other))), [3]);
});

test("two who change places keep their sides", () => {
  const pick = createPick("leader,place:2", () => 0);
  assert.deepEqual(numbers(pick(frameOf([working(1), working(2)]))), [1, 2]);
  assert.deepEqual(numbers(pick(frameOf([working(2), working(1)]))), [1, 2]);
});
