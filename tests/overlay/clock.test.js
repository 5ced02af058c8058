import assert from "node:assert/strict";
import { test } from "node:test";
import { createClockSync, heatClockMs, offsetMs, roundTripMs } from "../../overlay/shared/clock.js";

/** Milliseconds of a time on 16:34. */
const at = (seconds) => Math.round((16 * 3600 + 34 * 60 + seconds) * 1000);

test("RFC 5905 §8 on the worked example of Coulouris et al.: offset 10.0125 s, round trip 0.075 s", () => {
  const times = [at(13.43), at(23.48), at(25.7), at(15.725)];
  assert.equal(offsetMs(...times), 10_012.5);
  assert.equal(roundTripMs(...times), 75);
});

test("equal clocks with 50 ms each way give no offset", () => {
  assert.equal(offsetMs(1000, 1050, 1060, 1110), 0);
});

test("Cristian's example: round trips of 22, 25 and 20 ms; the last counts, and the clock reads 10:54:28.352 ± 10 ms", () => {
  // Source: the worked example of Cristian's algorithm in textbooks on distributed systems (Coulouris et al., exercise).
  const sync = createClockSync();
  const server = (seconds) => Math.round((10 * 3600 + 54 * 60 + seconds) * 1000);
  const local = 5000;
  sync.sample(local, server(23.674), server(23.674), local + 22);
  sync.sample(local + 1700, server(25.45), server(25.45), local + 1725);
  sync.sample(local + 4600, server(28.342), server(28.342), local + 4620);
  assert.equal(local + 4620 + sync.offsetMs(), server(28.352));
  assert.equal(sync.errorMs(), 10);
});

test("the sample with the least round trip counts, whenever it came", () => {
  const sync = createClockSync();
  sync.sample(0, 1100, 1100, 100); // 100 ms on the way, offset 1050
  sync.sample(200, 1210, 1210, 220); // 20 ms on the way, offset 1000
  sync.sample(400, 1480, 1480, 500); // 100 ms on the way, offset 1030
  assert.equal(sync.offsetMs(), 1000);
  assert.equal(sync.errorMs(), 10);
});

test("nine samples later the best one is forgotten, because clocks drift", () => {
  const sync = createClockSync();
  sync.sample(0, 1001, 1001, 2);
  for (let t = 100; t < 900; t += 100) sync.sample(t, t + 1020, t + 1020, t + 20);
  assert.equal(sync.offsetMs(), 1010);
});

test("a sample that no error bound explains means a clock was set, and replaces the others", () => {
  const sync = createClockSync();
  sync.sample(0, 1010, 1010, 20); // at most 10 ms off
  sync.sample(100, 61_150, 61_150, 200); // at most 50 ms off, and a minute away
  assert.equal(sync.offsetMs(), 61_000);
});

test("without a sample the offset is 0 and its error is unknown", () => {
  const sync = createClockSync();
  sync.sample(0, 1010, 1010, 20);
  sync.reset();
  assert.equal(sync.offsetMs(), 0);
  assert.equal(sync.errorMs(), undefined);
});

test("the heat clock is undefined before the start", () => {
  assert.equal(heatClockMs({ cap_ms: 900_000 }, 1, 5000), undefined);
});

test("the heat clock runs from the start at the server's speed", () => {
  const clock = { cap_ms: 900_000, zero_unix_ms: 10_000, zero_at_ms: 0 };
  assert.equal(heatClockMs(clock, 1, 12_345), 2345);
  assert.equal(heatClockMs(clock, 10, 12_345), 23_450);
  assert.equal(heatClockMs({ ...clock, zero_at_ms: 60_000 }, 1, 12_345), 62_345);
});

test("the heat clock stops at the cap and at the end of the heat, and never shows less than 0", () => {
  const clock = { cap_ms: 900_000, zero_unix_ms: 10_000, zero_at_ms: 0 };
  assert.equal(heatClockMs(clock, 1, 2_000_000), 900_000);
  assert.equal(heatClockMs({ ...clock, ended_ms: 60_000 }, 1, 2_000_000), 60_000);
  assert.equal(heatClockMs(clock, 1, 9000), 0);
});
