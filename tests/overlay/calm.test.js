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
