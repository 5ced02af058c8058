import assert from "node:assert/strict";
import { test } from "node:test";

import { LEAST_STAY_S, STAY_S, createTurn, screensFor, toAnnouncedMs } from "../../overlay/board/rotation.js";

test("what the board turns through follows the state of the heat", () => {
  assert.deepEqual(screensFor("waiting", undefined, false), ["floor"]);
  assert.deepEqual(screensFor("waiting", 300_000, false), ["floor", "countdown"]);
  assert.deepEqual(screensFor("waiting", 60_000, false), ["countdown"]);
  assert.deepEqual(screensFor("waiting", -1, false), ["floor"]);
  assert.deepEqual(screensFor("running", -1, false), ["floor"]);
  assert.deepEqual(screensFor("running", -1, true), ["floor", "ranking"]);
  assert.deepEqual(screensFor("over", -1, true), ["result"]);
});

test("a screen stays as long as asked, and no shorter than it takes to read", () => {
  let now = 0;
  const after = (seconds, ms) => {
    now = 0;
    const turn = createTurn({ seconds }, () => now);
    turn("running", -1, true);
    now = ms;
    return turn("running", -1, true);
  };
  assert.equal(after(null, STAY_S * 1000 - 1), "floor");
  assert.equal(after(null, STAY_S * 1000), "ranking");
  assert.equal(after("30", 29_999), "floor");
  assert.equal(after("0.1", LEAST_STAY_S * 1000 - 1), "floor");
  assert.equal(after("soon", STAY_S * 1000), "ranking");
  assert.equal(after("15", 30_000), "floor");
});

test("a heat that ends does not wait for its turn", () => {
  let now = 0;
  const turn = createTurn({}, () => now);
  turn("running", -1, true);
  now = 1;
  assert.equal(turn("over", -1, true), "result");
});

test("one screen can be pinned, and an unknown one is passed over", () => {
  assert.equal(createTurn({ show: "ranking" })("over", undefined, true), "ranking");
  assert.equal(createTurn({ show: "poster" })("over", undefined, true), "result");
});

test("an announced start is of today", () => {
  const now = new Date(2026, 3, 4, 14, 0, 30);
  assert.equal(toAnnouncedMs("14:05", now), 270_000);
  assert.equal(toAnnouncedMs("9:00", now), -5 * 3_600_000 - 30_000);
  assert.deepEqual([toAnnouncedMs("25:00", now), toAnnouncedMs("", now), toAnnouncedMs(null, now)], [undefined, undefined, undefined]);
});
