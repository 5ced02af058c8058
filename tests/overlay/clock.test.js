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
  assert.equal(local + 4620 + sync.offsetMs(local + 4620), server(28.352));
  assert.equal(sync.errorMs(local + 4620), 10);
});

test("the sample with the least round trip counts, whenever it came", () => {
  const sync = createClockSync();
  sync.sample(0, 1100, 1100, 100); // 100 ms on the way, offset 1050
  sync.sample(200, 1210, 1210, 220); // 20 ms on the way, offset 1000
  sync.sample(400, 1480, 1480, 500); // 100 ms on the way, offset 1030
  assert.equal(sync.offsetMs(500), 1000);
  assert.ok(Math.abs(sync.errorMs(220) - 10) < 1e-9, "half of its round trip (RFC 5905 §8)");
});

test("an error grows with its age, so that a quick sample of long ago gives way to a slower new one", () => {
  const sync = createClockSync();
  sync.sample(0, 1001, 1001, 2); // 1 ms off at most
  assert.ok(sync.errorMs(600_002) > 60, "ten minutes at 100 ppm are 60 ms");
  sync.sample(600_000, 601_020, 601_020, 600_020); // 10 ms off at most
  assert.equal(sync.offsetMs(600_020), 1010);
});

test("a sample that no error bound explains means that a clock was set, and replaces the others", () => {
  const sync = createClockSync();
  sync.sample(0, 1010, 1010, 20); // at most 10 ms off
  sync.sample(100, 61_150, 61_150, 200); // at most 50 ms off, and a minute away
  assert.equal(sync.offsetMs(200), 61_000);
});

test("without a sample nothing is known, and a round trip below nothing is none", () => {
  const sync = createClockSync();
  sync.sample(0, 100, 200, 20); // the server had it for longer than it was away
  assert.equal(sync.offsetMs(0), undefined);
  assert.equal(sync.errorMs(0), undefined);
});

/** A phone whose clock gains so many ppm, asking every ten seconds; the way back takes longer than the way there. */
const phone = (/** @type {number} */ ppm, /** @type {(n: number) => number} */ way) => {
  const sync = createClockSync();
  const mine = (/** @type {number} */ server) => server * (1 + ppm / 1e6) - 90_000;
  for (let n = 0; n < 31; n += 1) {
    const sent = n * 10_000;
    sync.sample(mine(sent), sent + way(n), sent + way(n), mine(sent + 2 * way(n)));
  }
  return { sync, mine };
};

test("a drift of 50 ppm either way is measured: ten minutes without the network cost less than 20 ms", () => {
  for (const ppm of [50, -50, 0]) {
    const { sync, mine } = phone(ppm, (n) => 5 + ((n * 7) % 5));
    const now = 900_000;
    const off = mine(now) + sync.offsetMs(mine(now)) - now;
    assert.ok(Math.abs(off) < 20, `${ppm} ppm: ${off} ms off`);
    assert.ok(Math.abs(off) <= sync.errorMs(mine(now)), "within its own bound");
  }
});

test("whatever the ways there and back, the time is never further off than its bound", () => {
  let seed = 7;
  const random = () => (seed = (seed * 16_807) % 2_147_483_647) / 2_147_483_647; // Park and Miller 1988
  for (let world = 0; world < 200; world += 1) {
    const [sync, apart, ppm] = [createClockSync(), (random() - 0.5) * 180_000, (random() - 0.5) * 100];
    const mine = (/** @type {number} */ server) => (server + apart) * (1 + ppm / 1e6);
    for (let sent = 0; sent < 300_000; sent += 1000 + random() * 20_000) {
      const [there, back] = [random() * 400, random() * 400];
      sync.sample(mine(sent), sent + there, sent + there, mine(sent + there + back));
      const now = sent + there + back + random() * 10_000;
      const off = Math.abs(mine(now) + sync.offsetMs(mine(now)) - now);
      assert.ok(off <= sync.errorMs(mine(now)) + 1, `world ${world}: ${off} ms off, ${sync.errorMs(mine(now))} said`);
    }
  }
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
