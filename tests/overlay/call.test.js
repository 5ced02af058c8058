/** The call in words. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { factsOf } from "../../overlay/call/facts.js";
import { cellTexts, chaseText, leadText, likelyPlaces, percent, toBeatText, unknownText } from "../../overlay/call/words.js";
import { behindText } from "../../overlay/commentary/behind.js";

/** @param {object} more @returns {any} */
const lane = (more) => ({ lane: 1, short: "Holm", name: "Ida Holm", home: "Quay", division: "w", status: "working", unit: "reps", no_reps: 0, points: 90, ...more });
/** @param {object} more @returns {any} */
const frame = (more) => ({ event: { format: "for_time", rounds_a_lap: 1, legs: [] }, divisions: { w: { name: "Women" } }, order: [1, 2], lanes: { 1: lane({}), 2: lane({ lane: 2, short: "Ruiz" }) }, to_beat: {}, ...more });
/** @param {string} text */
const plain = (text) => text.replace(/[\u2068\u2069]/g, "").replaceAll("\u00a0", " ");

test("a gap in seconds shows how sure it is: plain, at the last mark, growing", () => {
  assert.equal(behindText({ ms: 4300, precision: "exact" }), "+4.3 s");
  assert.equal(behindText({ ms: 4300, precision: "at_last_mark" }), "+4.3 s*");
  assert.equal(behindText({ ms: 64_300, precision: "at_least" }), "≥1:04.3");
  assert.equal(behindText(undefined), "");
});

test("the time to beat is told with where the best here stands against it", () => {
  const to_beat = { w: { result: "11:42.31", short: "Vale", name: "Kim Vale", entry: "x", heat: "h1" } };
  const lanes = { 1: lane({ ghost: { ms: -2500, precision: "exact" } }), 2: lane({ lane: 2 }) };
  assert.equal(plain(toBeatText(frame({ to_beat, lanes }), "w", "Heat 1")), "11:42.31 Vale, Heat 1: Holm ahead of it by 2.5 s");
  assert.equal(toBeatText(frame({}), "w", ""), "");
});

test("who catches whom is told with the gap and the time until they are level", () => {
  const chase = { lane: 2, ahead: 1, gap_ms: 2400, was_ms: 6000, catch_ms: 90_000 };
  assert.equal(plain(chaseText(frame({}), chase)), "Ruiz → Holm: +2.4 s, level in 1:30");
});

test("the overall lead is told by chances until somebody has it for certain", () => {
  const likely = frame({ lanes: { 1: lane({ outlook: { overall_places: [0.25, 0.75] } }), 2: lane({ lane: 2, short: "Ruiz", outlook: { overall_places: [0.74] } }) } });
  assert.equal(plain(leadText(likely, "w")), "Ruiz 74 % · Holm 25 %");
  likely.lanes[1].stakes = { clinched: true };
  assert.equal(plain(leadText(likely, "w")), "Holm has it, whatever happens");
});

test("the likeliest places come first, and what hardly happens is left out", () => {
  assert.equal(plain(likelyPlaces([0.02, 0.3, 0.6, 0.08])), "3rd 60 %, 2nd 30 %, 4th 8 %");
  assert.equal(percent(0.99), "99\u00a0%");
});

test("0 and 100 % are shown of what is proved alone", () => {
  const shown = [0, 0.005, 0.01, 0.5, 0.99, 0.995, 1].map((share) => plain(percent(share)));
  assert.deepEqual(shown, ["0 %", "<1 %", "1 %", "50 %", "99 %", ">99 %", "100 %"]);
});

test("the facts of an athlete leave out what is not known", () => {
  assert.deepEqual(factsOf(frame({}), lane({})), [["Who", "Quay, Women"]]);
});

test("what an athlete needs is told in places", () => {
  const stakes = { clinched: false, alive: true, best: 1, worst: 4, clinching: [1], leading: [1, 2, 3], podium: "possible", beat: [{ entry: "r", short: "Ruiz", by: 2 }, { entry: "v", short: "Vale", by: -1 }] };
  const facts = new Map(factsOf(frame({}), lane({ stakes })));
  assert.equal(facts.get("To lead overall"), "1st makes it certain; possible with 3rd or better");
  assert.equal(plain(facts.get("Must beat") ?? ""), "Ruiz by 2 places, Vale (may be 1 place behind)");
  assert.equal(facts.get("Overall after it"), "1st to 4th possible; podium possible");
});

test("a forecast that may never come says so instead of giving a time", () => {
  const outlook = { finish_ms: { median: 900_000, low_80: 880_000 }, inside_cap: 0.5, heat_places: [], event_places: [], points: {} };
  assert.equal(plain(new Map(factsOf(frame({}), lane({ outlook }))).get("Finish") ?? ""), "about 15:00, 4 in 5: 14:40 to never; inside the cap 50 %");
});

test("what a lane will come to is written as its format is scored", () => {
  const bar = (/** @type {number} */ n) => ({ round: 1, station: n, movement: "Squat", scored_after: 2 * n, done_after: 2 * n, loads: { w: `${80 + 10 * n} kg` } });
  const ladder = frame({ event: { format: "ladder", ladder: {}, rounds_a_lap: 1, legs: [1, 2, 3].map(bar) }, heat: {}, leader: {} });
  const reps = { median: 5, low_80: 4, high_80: 6 };
  const texts = [
    [ladder, { reps }, "about 2 bars + 1, 4 in 5: 2 bars to 3 bars"],
    [frame({ event: { format: "max_load", lifting: { load_unit: "kg" } } }), { load: { median: 99_500, low_80: 96_000, high_80: 101_000 } }, "about 99.5 kg, 4 in 5: 96 kg to 101 kg"],
    [frame({ event: { format: "intervals", intervals: { timed: true } } }), { total_ms: { median: 95_000, low_80: 91_000 } }, "about 1:35, 4 in 5: 1:31 to never"],
    [frame({ event: { format: "amrap" } }), { reps }, "about 5 reps, 4 in 5: 4 reps to 6 reps"],
    [frame({ event: { format: "max_load" } }), {}, undefined],
  ];
  for (const [asked, outlook, text] of /** @type {any[]} */ (texts)) {
    const end = new Map(factsOf(asked, lane({ outlook }))).get("At the end");
    assert.equal(end && plain(end), text);
  }
  assert.equal(cellTexts(ladder, lane({ done: 3, result: "1 bar + 1", outlook: { reps } })).meaning, "bar 2 of 3, 100 kg");
});

test("a range of whole loads says how much it holds", () => {
  const load = { median: 99_000, low_80: 95_000, high_80: 103_000, holds_80: 0.91 };
  const asked = frame({ event: { format: "max_load", lifting: { unit: "kg" } } });
  assert.match(plain(new Map(factsOf(asked, lane({ outlook: { load } }))).get("At the end") ?? ""), /, 91 %: 95 .*to 103/);
});

test("where a finish is not likely to come, the count at the cap is told", () => {
  const outlook = { finish_ms: { low_50: 880_000 }, inside_cap: 0.2, reps: { median: 101, low_80: 101, high_80: 101 } };
  assert.equal(plain(new Map(factsOf(frame({}), lane({ outlook }))).get("Finish") ?? ""), "about 101 reps; inside the cap 20 %");
});

test("gaps are told in reps, seconds and work, the leader's once where it is next as well", () => {
  const leader = { lane: 2, reps: 13, work_ms: 48_000, ms: 77_000, precision: "at_least" };
  const next = { lane: 3, reps: 1, work_ms: 0, ms: 4200, precision: "exact" };
  const told = (/** @type {object} */ behind) => plain(new Map(factsOf(frame({}), lane({ behind }))).get("Behind") ?? "");
  assert.equal(told({ leader, next }), "leader 13 reps, ≥1:17.0, 0:48 of work · next place 1 rep, +4.2 s");
  assert.equal(told({ leader, next: leader }), "leader 13 reps, ≥1:17.0, 0:48 of work");
});

test("the last stations are told with the way into them, pieces with what they came to", () => {
  const legs = ["Row", "Lunge"].map((movement, at) => ({ movement, round: 1, station: at + 1 }));
  const asked = frame({ event: { format: "for_time", rounds_a_lap: 1, legs } });
  const pace = { stations: { 1: { 1: 20_000, 2: 30_000 }, 2: { 1: 25_000 } }, transitions: { 2: { 1: 4600 } } };
  const facts = new Map(factsOf(asked, lane({ pace })));
  assert.equal(plain(facts.get("Last stations") ?? ""), "round 2: row 0:25, 4.6 s into it");
  const pieces = frame({ event: { format: "intervals", rounds_a_lap: 1, legs } });
  const own = new Map(factsOf(pieces, lane({ piece_list: [{ number: 1, reps: 8, ms: 41_250 }, { number: 2, reps: 5 }] })));
  assert.equal(plain(own.get("Pieces") ?? ""), "1st 0:41.2 · 2nd 5 reps");
});

test("where what is needed has no exact answer the page says so, and why", () => {
  assert.equal(unknownText("several_scores"), "What is needed: not worked out (this event has several scores and many entries that are open)");
  assert.match(unknownText("something_new"), /something_new/);
});
