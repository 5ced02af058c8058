import assert from "node:assert/strict";
import { test } from "node:test";
import { createTouchGuard } from "../../overlay/pad/press.js";

test("a second touch inside the guard is no rep, one at its end is", () => {
  const counts = createTouchGuard();
  assert.deepEqual([counts(0, 150), counts(149, 150), counts(150, 150)], [true, false, true]);
});

test("an ignored touch does not push the guard on", () => {
  const counts = createTouchGuard();
  assert.deepEqual([0, 100, 160].map((at) => counts(at, 150)), [true, false, true]);
});

test("a station without a guard takes every touch", () => {
  const counts = createTouchGuard();
  assert.deepEqual([0, 0, 1].map((at) => counts(at, 0)), [true, true, true]);
});
