import assert from "node:assert/strict";
import { test } from "node:test";

import { OffAir } from "../../overlay/air/offair.js";
import { frameOf, laneOf } from "./frames.js";

const FRAME = frameOf([laneOf(4, { done: 9, round: 2 }), laneOf(2, { done: 5 }), laneOf(7)]);
const lanes = (frame) => Object.keys(frame.lanes).map(Number);

test("without a hold the frame is passed on as it is", () => {
  assert.equal(new OffAir().strip(FRAME, 1000), FRAME);
});

test("a lane on hold is gone from frames made before the hold too, from the order and the lead", () => {
  const off = new OffAir();
  off.take([4], 5000);
  const shown = off.strip(FRAME, 1000);
  assert.deepEqual([lanes(shown), shown.order, shown.leader], [[2, 7], [2, 7], { lane: 2, round: 1 }]);
});

test("after its release a lane comes back with what was made since, not with what was made before", () => {
  const off = new OffAir();
  off.take([4], 5000);
  off.take([], 8000);
  assert.deepEqual(lanes(off.strip(FRAME, 4000)), [2, 7]);
  assert.deepEqual(lanes(off.strip(FRAME, 8000)), [2, 4, 7]);
});

test("with everybody on hold nobody leads", () => {
  const off = new OffAir();
  off.take([2, 4, 7], 5000);
  const shown = off.strip(FRAME, 6000);
  assert.deepEqual([lanes(shown), shown.order, shown.leader], [[], [], {}]);
});

test("an entry on hold is gone from tables over several heats and from the next heat, and comes back as a lane does", () => {
  const off = new OffAir();
  off.takeEntries(["w9"], 5000);
  const table = { women: { order: ["w1", "w9"], rows: { w1: { entry: "w1" }, w9: { entry: "w9" } } } };
  const frame = { ...FRAME, ranking: table, standings: table, next: { lanes: { 3: { entry: "w9" }, 4: { entry: "w2" } } } };
  const shown = off.strip(frame, 1000);
  assert.deepEqual([shown.ranking.women.order, Object.keys(shown.standings.women.rows)], [["w1"], ["w1"]]);
  assert.deepEqual(Object.keys(shown.next.lanes), ["4"]);
  off.takeEntries([], 8000);
  assert.deepEqual(off.strip(frame, 7000).ranking.women.order, ["w1"]);
  assert.equal(off.strip(frame, 8000), frame);
});
