import assert from "node:assert/strict";
import { test } from "node:test";

import { changeText, heatAt, heatClockAt, howText, momentMs, momentRows, typedClock } from "../../overlay/rehearsal/state.js";

const HEATS = [
  { id: "one", title: "Ebb, heat 1", start_ms: 5000, end_ms: 605_000, lanes: { 3: "Ada Q" } },
  { id: "two", title: "Ebb, heat 2", start_ms: 620_000, end_ms: 1_220_000, lanes: {} },
];

/** @param {Partial<import("../../overlay/rehearsal/state.js").Staged>} fields */
function staged(fields) {
  return { at_ms: 0, length_ms: 1_223_000, playing: true, speed: 1, heats: HEATS, moments: [], still_looking: false, changes: [], ...fields };
}

test("between two answers the moment goes on at its speed, and not past the end", () => {
  assert.equal(momentMs(staged({ at_ms: 10_000 }), 500), 10_500);
  assert.equal(momentMs(staged({ at_ms: 10_000, speed: 60 }), 500), 40_000);
  assert.equal(momentMs(staged({ at_ms: 10_000, speed: 60, playing: false }), 500), 10_000);
  assert.equal(momentMs(staged({ at_ms: 1_222_500 }), 900), 1_223_000);
});

test("a passage begins again at its end", () => {
  const loop = { from_ms: 10_000, to_ms: 12_000 };
  assert.equal(momentMs(staged({ at_ms: 11_500, loop }), 400), 11_900);
  assert.equal(momentMs(staged({ at_ms: 11_500, loop }), 700), 10_200);
  assert.equal(momentMs(staged({ at_ms: 13_000, loop }), 700), 13_700, "gone past it by hand");
});

test("the heat is the last one that started, and its clock stands before that", () => {
  assert.equal(heatAt(HEATS, 0)?.id, "one");
  assert.equal(heatClockAt(HEATS[0], 0), 0);
  assert.equal(heatAt(HEATS, 619_999)?.id, "one");
  assert.equal(heatAt(HEATS, 620_000)?.id, "two");
  assert.equal(heatClockAt(HEATS[1], 680_000), 60_000);
  assert.equal(heatAt([], 1), undefined);
});

test("how it goes on is said in words", () => {
  assert.equal(howText(staged({ speed: 4 }), 65_000), "1:05 of 20:23 · plays at speed 4");
  const loop = { from_ms: 0, to_ms: 9000 };
  assert.equal(howText(staged({ playing: false, loop, still_looking: true }), 0), "0:00 of 20:23 · stands still · a passage again and again · looking for cues");
});

test("the moments round the present one are listed by the clock of their heat", () => {
  const moments = [...Array(40).keys()].map((n) => ({ moment_ms: 5000 + n * 10_000, kind: n % 2 ? "lead" : "no_rep", heat: "one", line: `line ${n}` }));
  const rows = momentRows(staged({ moments }), 5000 + 100_000);
  assert.equal(rows.length, 20);
  assert.deepEqual([rows[0].what, rows[0].at, rows[0].kind, rows[0].past], ["line 7", "1:10", "lead", true]);
  assert.deepEqual(rows.filter(({ past }) => past).map(({ what }) => what), ["line 7", "line 8", "line 9", "line 10"]);
  assert.deepEqual(momentRows(staged({ moments }), 10 ** 7).map(({ past }) => past), Array(4).fill(true));
});

test("a change is told with the name on its lane", () => {
  assert.equal(changeText({ kind: "no_rep", heat: "one", lane: 3, at_ms: 250_000 }, HEATS), "A no-rep for lane 3 (Ada Q) at 4:10, Ebb, heat 1");
  assert.equal(changeText({ kind: "withdrawal", heat: "two", lane: 9, at_ms: 1000 }, HEATS), "A withdrawal of lane 9 at 0:01, Ebb, heat 2");
});

test("a typed time is read, and anything else is said back", () => {
  assert.equal(typedClock(" 8:30 "), 510_000);
  assert.throws(() => typedClock("soon"), /found “soon”, expected a time such as 8:30/);
});
