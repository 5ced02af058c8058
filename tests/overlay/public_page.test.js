/** The spectator page's reading of the public feed, and its words, without a browser. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { LONGEST_MS, PictureTime, RESTING_MS, RUNNING_MS, readFeed, waitMs } from "../../overlay/public/feed.js";
import { cardLines, laneOf } from "../../overlay/public/needs.js";

const settle = () => new Promise((resolve) => setImmediate(resolve));

/** A feed on a clock of the test's own. */
function stage() {
  const segments = { "1-a": { heat: { status: "running" }, n: 1 }, "2-b": { heat: { status: "over" }, n: 2 } };
  const stage = {
    asked: [], shown: [], failures: [], timers: [], up: true, seen: true,
    newest: { segment: "1-a", unix_ms: 10, changes: {} },
    again: () => {},
    async pass() {
      stage.timers.splice(0).forEach(({ act }) => act());
      await settle();
    },
  };
  stage.again = readFeed({
    newest: "/public/newest",
    async get(path) {
      stage.asked.push(path);
      if (!stage.up) throw new Error("away");
      return path === "/public/newest" ? stage.newest : segments[path.split("/").at(-1)];
    },
    after: (ms, act) => stage.timers.push({ ms, act }),
    random: () => 0.5,
    isSeen: () => stage.seen,
    show: (seen) => stage.shown.push(seen),
    failed: (times) => stage.failures.push(times),
  });
  return stage;
}

test("never more often than once a second, and phones do not ask in step", () => {
  for (const random of [0, 0.3, 1]) {
    assert.ok(waitMs(true, 0, random) >= RUNNING_MS);
    assert.ok(waitMs(false, 0, random) >= RESTING_MS);
  }
  assert.notEqual(waitMs(true, 0, 0.1), waitMs(true, 0, 0.9));
});

test("after failures it waits longer each time, up to half a minute, each phone for itself", () => {
  const waits = [1, 2, 3, 4, 5, 6, 20].map((failures) => waitMs(true, failures, 1));
  assert.deepEqual(waits, [2000, 4000, 8000, 16_000, LONGEST_MS, LONGEST_MS, LONGEST_MS]);
  assert.equal(waitMs(true, 20, 0), LONGEST_MS / 2);
});

test("a segment is asked for once, the changes are put on top of it, and it stays as it was", async () => {
  const feed = stage();
  await settle();
  feed.newest = { segment: "1-a", unix_ms: 11, changes: { n: 7 } };
  await feed.pass();
  feed.newest = { segment: "1-a", unix_ms: 12, changes: {} };
  await feed.pass();
  assert.deepEqual(feed.shown.map(({ picture, unixMs }) => [picture.n, unixMs]), [[1, 10], [7, 11], [1, 12]]);
  assert.equal(feed.asked.filter((path) => path.includes("segments")).length, 1);
});

test("a heat that does not run is asked for less often", async () => {
  const feed = stage();
  await settle();
  feed.newest = { segment: "2-b", unix_ms: 10, changes: {} };
  await feed.pass();
  assert.equal(feed.timers[0].ms, waitMs(false, 0, 0.5));
});

test("nobody looks: nothing is asked; looked at again: at once, and one question goes on", async () => {
  const feed = stage();
  await settle();
  feed.seen = false;
  await feed.pass();
  assert.equal(feed.asked.length, 2);
  feed.seen = true;
  feed.again();
  feed.again();
  await settle();
  assert.equal(feed.timers.length, 1);
});

test("failures are told and counted, and forgotten with the next picture", async () => {
  const feed = stage();
  await settle();
  feed.up = false;
  await feed.pass();
  await feed.pass();
  feed.up = true;
  await feed.pass();
  feed.up = false;
  await feed.pass();
  assert.deepEqual(feed.failures, [1, 2, 1]);
});

test("the clock follows the picture that came quickest, and one that was set", () => {
  const time = new PictureTime();
  time.add(1_000_000, 5000);
  time.add(1_001_000, 7000);
  assert.equal(time.at(8000), 1_003_000);
  time.add(1_004_000, 8500);
  assert.equal(time.at(8500), 1_004_000);
  time.add(9_000_000, 9000);
  assert.equal(time.at(9000), 9_000_000);
});

const event = { format: "for_time", laps: 1, rounds_a_lap: 5, legs: [{ movement: "Carry" }] };
const lane = (more) => ({ entry: "a", status: "working", place: 2, shared: false, round: 3, gap_next: 4, reps_to_go: 47, result: "63 reps", ...more });
const frameOf = (...lanes) => ({ event, order: lanes.map((_, at) => at + 1), leader: { lane: 1 }, lanes: Object.fromEntries(lanes.map((each, at) => [at + 1, each])) });

test("what an athlete needs, in four lines whatever is known", () => {
  const known = lane({ in_event: { place: 6, shared: false, of: 15, to_beat: "11:28.800" }, points: 75 });
  assert.deepEqual(cardLines(frameOf(known), known, undefined), [
    ["Now", "2nd in the heat · Round 3 of 5"],
    ["Needs", "47 reps to go · −4 to the next place"],
    ["In the event", "6th of 15 · 75 points"],
    ["To beat", "11:28.800 in another heat"],
  ]);
  for (const status of ["ready", "working", "finished", "capped", "timed", "withdrawn", "did_not_start", "disqualified"]) {
    const each = lane({ status });
    assert.equal(cardLines(frameOf(each), each, undefined).length, 4);
  }
  assert.equal(cardLines(frameOf(), undefined, undefined).length, 4);
  assert.deepEqual(cardLines(frameOf(), undefined, { place: 3, shared: true, result: "CAP+2", points: 80 })[0], ["In the event", "=3 with CAP+2"]);
});

test("who is meant: the one that is followed, else the leader, nobody before the first rep", () => {
  const [one, two] = [lane({ entry: "a" }), lane({ entry: "b" })];
  assert.equal(laneOf(frameOf(one, two), undefined), one);
  assert.equal(laneOf(frameOf(one, two), "b"), two);
  assert.equal(laneOf(frameOf(one, two), "c"), undefined);
  assert.equal(laneOf({ ...frameOf(one, two), leader: {} }, undefined), undefined);
});
