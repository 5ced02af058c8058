import assert from "node:assert/strict";
import { test } from "node:test";

import { drawing } from "../../overlay/practice/figure.js";
import { bestScore, keepLane, keepScore, lastLane } from "../../overlay/practice/kept.js";
import { LATE_MS, mark, median } from "../../overlay/practice/marking.js";
import { matched } from "../../overlay/practice/matching.js";
import { movesOf, poseAt, SHORT } from "../../overlay/practice/motion.js";
import { aloud, figures, scoreText, stationText } from "../../overlay/practice/words.js";
import { stepsOf } from "../../overlay/practice/work.js";
import { memoryStorage } from "../../overlay/shared/queue.js";
import { frameOf } from "./events.js";

/** Three swings, a block of four hops, ten metres of sled, two swings. */
const ROUND = [
  { movement: "swing", amount: 3 },
  { movement: "hop", amount: 4, credit: "block" },
  { movement: "sled", amount: 10, unit: "metres" },
  { movement: "swing", amount: 2, loads: { women: "16 kg" } },
];
const { event, lanes } = frameOf({ 1: {} }, { rounds: [ROUND] });
const rep = (at_ms, more = {}) => ({ fact: "rep_counted", at_ms, ...more });
const noRep = (at_ms) => ({ fact: "no_rep_called", at_ms });
const block = (at_ms) => ({ fact: "block_completed", at_ms });
const metres = Array.from({ length: 10 }, (_, index) => rep(20_000 + 500 * index));
const TRUTH = [rep(2000), rep(6000), rep(8000), block(15_000), ...metres, rep(30_000), noRep(32_000), rep(34_000)];
const RIGHT = [rep(2200), rep(6200), rep(8200), block(15_300), rep(24_700, { n: 10 }), rep(30_100), noRep(32_200), rep(34_200)];
const marked = (facts, until_ms = 60_000) => mark({ event, lane: lanes[1], truth: TRUTH, facts, until_ms });

/** What is not as it should be of all stations together. */
function faults({ all }) {
  const { missed, doubled, extra, late, let_through, refused, wrong, no_reps, called } = all;
  return Object.fromEntries(Object.entries({ missed, doubled, extra, late, let_through, refused, wrong, uncalled: no_reps - called }).filter(([, count]) => count));
}

test("a judge who misses nothing has a hundred, station by station", () => {
  const { stations, all, score } = marked(RIGHT);
  assert.deepEqual(stations.map(({ title, due, counted, no_reps, called }) => [title, due, counted, no_reps, called]), [
    ["swing", 3, 3, 0, 0],
    ["hop", 1, 1, 0, 0],
    ["sled", 1, 1, 0, 0],
    ["swing", 2, 2, 1, 1],
  ]);
  assert.deepEqual(all.lags_ms, [200, 200, 200, 300, 200, 100, 200]);
  assert.equal(score, 100);
});

/** @type {[string, object[], object, number][]} what the judge did, what is said of it, and the points of eight */
const CASES = [
  ["a missed rep", RIGHT.slice(0, 7), { missed: 1 }, 7],
  ["a missed rep, made good long after", [...RIGHT.slice(0, 2), rep(13_000), ...RIGHT.slice(3)], { missed: 1, extra: 1 }, 6],
  ["a double touch", [...RIGHT.slice(0, 6), rep(30_600), ...RIGHT.slice(6)], { doubled: 1 }, 7],
  ["a late tap", [rep(2000 + LATE_MS + 1), ...RIGHT.slice(1)], { late: 1 }, 7.5],
  ["a tap just in time", [rep(2000 + LATE_MS), ...RIGHT.slice(1)], {}, 8],
  ["a no-rep let through", [...RIGHT.slice(0, 6), rep(32_200), RIGHT[7]], { let_through: 1, uncalled: 1 }, 6],
  ["a no-rep nobody called", [...RIGHT.slice(0, 6), RIGHT[7]], { uncalled: 1 }, 7],
  ["a good rep refused", [...RIGHT.slice(0, 7), noRep(34_200)], { missed: 1, refused: 1 }, 6],
  ["a station read off a machine in two goes", [...RIGHT.slice(0, 4), rep(22_000, { n: 5 }), rep(24_700, { n: 5 }), ...RIGHT.slice(5)], {}, 8],
  ["nothing at all", [], { missed: 7, uncalled: 1 }, 0],
];
for (const [name, facts, found, points] of CASES) {
  test(`marks: ${name}`, () => {
    const result = marked(facts);
    assert.deepEqual(faults(result), found);
    assert.equal(result.score, Math.round((100 * points) / 8));
  });
}

test("a tap where nothing was done is counted for nothing, at the station where the athlete was", () => {
  const { stations } = marked([...RIGHT.slice(0, 5), rep(27_000), ...RIGHT.slice(5)]);
  assert.deepEqual(stations.map(({ extra }) => extra), [0, 0, 0, 1]);
});

test("what comes after the practice ended, or just before, is not held against anybody", () => {
  const stopped = marked(RIGHT.slice(0, 2), 8500);
  assert.deepEqual(faults(stopped), {});
  assert.equal(stopped.all.due, 2);
  assert.deepEqual(faults(marked([], 10_000)), { missed: 3 });
  assert.deepEqual([marked([], 0).score, marked([], 0).stations.length], [0, 0]);
});

test("a tap that a piece's end was too quick for is not held against anybody, and others are", () => {
  const intervals = { piece_count: 2, work_ms: 60_000, rest_ms: 30_000, counts: "sum", timed: false };
  const pieces = { event: { ...event, format: "intervals", intervals, laps: undefined }, lane: { ...lanes[1], pieces: [0, 0] }, until_ms: 150_000 };
  const missed = (/** @type {number} */ atMs) => faults(mark({ ...pieces, truth: [rep(atMs)], facts: [rep(60_100)] }));
  assert.deepEqual(missed(59_900), {});
  assert.deepEqual(missed(40_000), { missed: 1 });
});

test("taps are paired in order, as they fit best, and never too far apart", () => {
  const window = { early_ms: 500, late_ms: 3000 };
  assert.deepEqual(matched([1000, 2000, 3000], [1100, 3100], window), [[0, 0], [2, 1]]);
  assert.deepEqual(matched([1000, 3000], [1200, 1700, 3200], window), [[0, 0], [1, 2]]);
  assert.deepEqual(matched([1000], [400], window), []);
  assert.deepEqual(matched([1000], [4001], window), []);
  assert.deepEqual(matched([], [1], window), []);
});

test("a rep ends at the line at its moment, a no-rep short of it", () => {
  const moves = movesOf(stepsOf(event, lanes[1], TRUTH), "women");
  const heights = [2000, 6000, 30_000, 32_000, 34_000].map((atMs) => poseAt(moves, atMs - 0.01).height);
  assert.deepEqual(heights.map((each) => Math.round(each * 100) / 100), [1, 1, 1, SHORT, 1]);
  assert.equal(poseAt(moves, 30_900).height < 0.2, true);
  const quiet = [30_500, 31_500, 31_999].map((atMs) => poseAt(moves, atMs, true).height);
  assert.deepEqual([quiet.at(-1), quiet.every((each) => [0, 1, SHORT].includes(each))], [SHORT, true]);
});

test("every station moves in its own way, and a machine is read", () => {
  const moves = movesOf(stepsOf(event, lanes[1], TRUTH), "women");
  assert.deepEqual([...new Set(moves.map(({ look }) => look))], ["climb", "hop", "travel", "bar"]);
  assert.equal(poseAt(moves, 22_250).reading, "5 of 10 metres");
  assert.deepEqual(poseAt([], 0), { look: "body", height: 1, share: 0, reading: "" });
  for (let atMs = 0; atMs < 40_000; atMs += 37) {
    const pose = poseAt(moves, atMs);
    assert.ok(pose.height >= 0 && pose.height <= 1 && pose.share >= 0 && pose.share <= 1, String(atMs));
    assert.doesNotMatch(JSON.stringify(drawing(pose)), /NaN|null/);
  }
});

test("the head, or the bar, touches the line when a rep is done, and stays below it when it is none", () => {
  for (const look of ["body", "climb", "bar"]) {
    const line = Number(drawing({ look, height: 1, share: 0 }).line.match(/ (\d+)H/)?.[1]);
    const top = (/** @type {number} */ height) => {
      const { head, bar } = drawing({ look, height, share: 0 });
      return look === "bar" ? Number(bar.match(/M42 ([\d.]+)H/)?.[1]) : head[1] - 14;
    };
    assert.ok(Math.abs(top(1) - line) <= 3, `${look} ${top(1)} ${line}`);
    assert.ok(top(SHORT) - line > 15, look);
  }
});

test("the score to beat is kept for a workout, a lane, a number and a length", () => {
  const storage = memoryStorage();
  const tried = { workout: "e h", lane: 1, seed: 7, minutes: "2" };
  assert.equal(bestScore(storage, tried), undefined);
  keepScore(storage, tried, 80);
  keepScore(storage, tried, 70);
  assert.deepEqual([bestScore(storage, tried), bestScore(storage, { ...tried, minutes: "all" })], [80, undefined]);
  keepLane({ ...storage, setItem: () => { throw new Error("full"); } }, /** @type {any} */ ({}));
  assert.equal(lastLane(storage), undefined);
  storage.setItem("tallywire.practice.lane", "{torn");
  assert.equal(lastLane(storage), undefined);
});

test("the page says what was not right, and nothing of what was", () => {
  assert.deepEqual(figures(marked(RIGHT).all), [
    ["counted", "7 of 7", false],
    ["how late", "usually 0.20 s, at worst 0.30 s", false],
    ["no-reps called", "1 of 1", false],
  ]);
  assert.deepEqual(figures(marked(RIGHT.slice(0, 7)).all).slice(0, 2), [["counted", "6 of 7", true], ["missed", "1", true]]);
  assert.equal(scoreText(90, undefined), "90 of 100: the score to beat");
  assert.match(scoreText(90, 80), /better than 80/);
  assert.match(scoreText(80, 80), /to beat: 80/);
  assert.deepEqual([median([3, 1, 2]), median([4, 1]), median([])], [2, 2.5, undefined]);
});

test("a load and a turn are said aloud", () => {
  const steps = [
    { kind: "rep", at_ms: 1000, member: 1, leg: event.legs[0] },
    { kind: "change", at_ms: 2000, member: 2, leg: event.legs[0] },
    { kind: "rep", at_ms: 9000, member: 2, leg: event.legs[0] },
  ];
  assert.deepEqual([500, 2100, 6000].map((atMs) => aloud(/** @type {any} */ (steps), atMs)), ["Number 1", "“Change to 2!”", "Number 2"]);
  assert.equal(aloud(/** @type {any} */ ([{ kind: "load", at_ms: 0, load_milli: 92_500 }]), 1), "“92.5!”");
  assert.equal(stationText(/** @type {any} */ (steps), 0), "swing · 3 reps");
});
