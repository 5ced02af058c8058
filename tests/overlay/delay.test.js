import assert from "node:assert/strict";
import { test } from "node:test";

import { CLOCK_SET_MS, Delayed, FASTEST, LEAD_MS, ShownTime, SLOWEST, Waiting } from "../../overlay/shared/delay.js";

const START = 1_800_000_000_000;

/** Run a shown time picture by picture while the delay changes; gives [real, shown] of each picture. */
function run(delays, { picture = 20, jitter = () => 0 } = {}) {
  const time = new ShownTime();
  const seen = [];
  let now = 0;
  for (const [delay, length] of delays) {
    for (const end = now + length; now < end; now += picture) {
      seen.push([now, time.advance(now, START + now + jitter(now) - delay) - START]);
    }
  }
  return seen;
}

test("at first the shown time is behind by the delay, and stays so", () => {
  assert.ok(run([[2400, 5000]]).every(([real, shown]) => shown === real - 2400));
});

test("0 to 5 s to 1 s: the shown time never goes back, stands or jumps, and arrives in ten and four seconds", () => {
  const seen = run([[0, 1000], [5000, 11_000], [1000, 5000]]);
  const steps = seen.slice(1).map(([, shown], index) => shown - seen[index][1]);
  assert.ok(steps.every((step) => step >= 20 * SLOWEST && step <= 20 * FASTEST));
  const behind = (at) => seen.find(([real]) => real === at)?.map((ms) => ms).reduce((real, shown) => real - shown);
  assert.equal(behind(10_960), 4990);
  assert.equal(behind(10_980), 5000);
  assert.equal(behind(15_960), 1020);
  assert.equal(behind(15_980), 1000);
});

test("a clock estimate that trembles by 15 ms never turns the shown time back", () => {
  const seen = run([[1000, 10_000]], { jitter: (now) => 15 * Math.sin(now) });
  assert.ok(seen.slice(1).every(([, shown], index) => shown > seen[index][1]));
  assert.ok(seen.every(([real, shown]) => Math.abs(real - shown - 1000) <= 15));
});

test("a clock that was set starts the shown time anew, forward or back", () => {
  for (const jump of [3 * CLOCK_SET_MS, -3 * CLOCK_SET_MS]) {
    const time = new ShownTime();
    time.advance(0, START);
    assert.equal(time.advance(20, START + jump), START + jump);
  }
});

test("what waits comes in its order, the newest of each key, each once", () => {
  const waiting = new Waiting();
  for (const [key, made] of [["a", 10], ["b", 20], ["a", 30], ["a", 50]]) waiting.add(key, made, made);
  assert.deepEqual(waiting.take(9), []);
  assert.deepEqual(waiting.take(30).map(({ value }) => value), [20, 30]);
  assert.deepEqual(waiting.take(30), []);
  assert.deepEqual(waiting.take(50).map(({ value }) => value), [50]);
});

test("what came later is shown later, even if the server's clock was set back in between", () => {
  const waiting = new Waiting();
  waiting.add("a", 1000, "first");
  waiting.add("a", 990, "second");
  assert.deepEqual(waiting.take(995), []);
  assert.deepEqual(waiting.take(1000).map(({ value }) => value), ["second"]);
  waiting.add("a", 10 * CLOCK_SET_MS, "before the clock was set");
  waiting.add("a", 2000, "after");
  assert.deepEqual(waiting.take(2000).map(({ value }) => value), ["after"]);
});

test("numbers made under load while the delay goes 0, 5 s, 1 s never repeat or go back", () => {
  const row = new Delayed();
  const shown = [];
  let number = 0;
  for (let now = 0; now < 40_000; now += 8) {
    row.delayMs = now < 5000 ? 0 : now < 20_000 ? 5000 : 1000;
    if (now % 40 === 0 && now < 30_000) row.add("heat", START + now, (number += 1));
    for (const { value } of row.advance(now, START + now)) shown.push(value);
  }
  assert.ok(shown.length > 500);
  assert.equal(shown.at(-1), number);
  assert.ok(shown.slice(1).every((value, index) => value > shown[index]));
});

test("with a settled delay every frame is shown within one picture of its time", () => {
  const row = new Delayed();
  row.delayMs = 2400;
  const late = [];
  for (let now = 0; now < 10_000; now += 1) {
    if (now % 97 === 0) row.add("heat", START + now, now);
    if (now % 16 === 0) for (const { value } of row.advance(now, START + now)) late.push(now - value - 2400);
  }
  assert.ok(late.length > 70);
  assert.ok(late.every((ms) => ms >= -LEAD_MS && ms <= 16));
});

test("without a delay nothing waits, even before the server's clock is known", () => {
  const row = new Delayed();
  row.add("heat", START, 1);
  assert.deepEqual(row.advance(0, undefined).map(({ value }) => value), [1]);
  row.advance(10, START);
  row.add("heat", START + 500, 2);
  assert.deepEqual(row.advance(20, START + 10).map(({ value }) => value), [2]);
});

test("with a delay nothing is shown before the server's clock is known", () => {
  const row = new Delayed();
  row.delayMs = 1000;
  row.add("heat", START, 1);
  assert.deepEqual(row.advance(0, undefined), []);
  assert.deepEqual(row.advance(20, START + 20), []);
  assert.deepEqual(row.advance(1020, START + 1020).map(({ value }) => value), [1]);
});

test("a rehearsal that jumps shows nothing more from before, and its new moment at once", () => {
  const row = new Delayed();
  row.delayMs = 5000;
  row.add("heat", START, "early", 1);
  row.advance(5000, START + 5000);
  row.add("heat", START + 4000, "waits", 1);
  row.add("heat", START + 5000, "heat there", 2);
  row.add("show", START + 5000, "show there", 2);
  assert.deepEqual(row.advance(5001, START + 5001).map(({ value }) => value), ["heat there", "show there"]);
  row.add("heat", START + 6000, "later", 2);
  assert.deepEqual(row.advance(10_990, START + 10_990).map(({ value }) => value), []);
  assert.deepEqual(row.advance(11_000, START + 11_000).map(({ value }) => value), ["later"]);
});
