import assert from "node:assert/strict";
import { test } from "node:test";

import { CALM_MS, createCalm } from "../../overlay/shared/calm.js";
import { frameOf, laneOf } from "./frames.js";

/** A clock that only moves when told, and what it was asked to do later. */
function clock() {
  let now = 0;
  /** @type {{at: number, act: () => void}[]} */
  let due = [];
  return {
    now: () => now,
    after: (ms, act) => void due.push({ at: now + ms, act }),
    pass(ms) {
      now += ms;
      const ripe = due.filter(({ at }) => at <= now);
      due = due.filter(({ at }) => at > now);
      for (const { act } of ripe) act();
    },
  };
}

/** Two lanes; the first of `order` leads with this many reps. */
function duel(order, reps) {
  const lanes = order.map((lane, index) => laneOf(lane, { done: reps, scored_reps: reps - index, place: index + 1 }));
  return frameOf(lanes);
}

test("counts are drawn as they come, while the standing waits for its second", () => {
  const time = clock();
  const drawn = [];
  const take = createCalm((frame) => drawn.push(frame), time);
  take(duel([1, 2], 10));
  take(duel([2, 1], 11));
  assert.deepEqual(drawn.at(-1).order, [1, 2]);
  assert.equal(drawn.at(-1).lanes[1].place, 1);
  assert.equal(drawn.at(-1).lanes[2].scored_reps, 11);
  time.pass(CALM_MS);
  assert.deepEqual(drawn.at(-1).order, [2, 1]);
  assert.equal(drawn.at(-1).lanes[2].place, 1);
});

test("two lanes that trade the lead a hundred times a second change the picture once a second", () => {
  const time = clock();
  const leaders = [];
  const take = createCalm((frame) => {
    if (frame.order[0] !== leaders.at(-1)?.lane) leaders.push({ lane: frame.order[0], at: time.now() });
  }, time);
  for (let tap = 0; tap < 1000; tap += 1) {
    take(duel(tap % 2 ? [2, 1] : [1, 2], tap + 1));
    time.pass(10);
  }
  const pauses = leaders.slice(1).map(({ at }, index) => at - leaders[index].at);
  assert.ok(leaders.length > 5);
  assert.ok(pauses.every((pause) => pause >= CALM_MS));
});

test("a standing that came back before its time was never shown as changed", () => {
  const time = clock();
  const orders = new Set();
  const take = createCalm((frame) => orders.add(frame.order.join()), time);
  take(duel([1, 2], 10));
  take(duel([2, 1], 11));
  take(duel([1, 2], 12));
  time.pass(CALM_MS * 2);
  assert.deepEqual([...orders], ["1,2"]);
});

test("another heat, or the start of this one, is drawn at once", () => {
  const drawn = [];
  const take = createCalm((frame) => drawn.push(frame), clock());
  take(duel([1, 2], 10));
  take({ ...duel([2, 1], 11), heat: { id: "h2", name: "Heat 2", status: "running" } });
  assert.deepEqual(drawn.at(-1).order, [2, 1]);
});

test("while the standing waits, all that comes from it waits with it: a gap never stands beside another place", () => {
  const time = clock();
  const drawn = [];
  const take = createCalm((frame) => drawn.push(frame), time);
  const led = (first, second, reps) => {
    const behind = { leader: { lane: first, reps: 1, work_ms: 1000 } };
    return frameOf([
      laneOf(first, { done: reps, scored_reps: reps, place: 1, in_event: { place: 1, shared: false, of: 2 } }),
      laneOf(second, { done: reps - 1, scored_reps: reps - 1, place: 2, gap_leader: 1, behind, in_event: { place: 2, shared: false, of: 2 } }),
    ]);
  };
  take(led(1, 2, 10));
  take(led(1, 2, 20));
  take(led(2, 1, 21));
  const { 1: one, 2: two } = drawn.at(-1).lanes;
  assert.deepEqual([one.place, one.gap_leader, one.in_event.place, one.behind, one.scored_reps], [1, 0, 1, undefined, 20]);
  assert.deepEqual([two.place, two.gap_leader, two.in_event.place, two.behind.leader.lane, two.scored_reps], [2, 1, 2, 1, 21]);
  time.pass(CALM_MS);
  assert.deepEqual([1, 2].map((lane) => drawn.at(-1).lanes[lane].gap_leader), [1, 0]);
});
