/** Counting by keys: which key is which lane's, and what a press counts. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { countDraft, keysOf } from "../../overlay/table/keyboard.js";
import { frameOf, laneOf } from "./frames.js";

const heat = frameOf([laneOf(1)]);

test("lanes have keys in their order, whatever their numbers", () => {
  const lanes = { 12: heat.lanes[1], 3: heat.lanes[1] };
  assert.deepEqual([...keysOf({ ...heat, lanes })], [["q", 3], ["w", 12]]);
});

test("a press counts a rep at its time, and nothing when the table may not act", () => {
  const known = { frame: heat, clockMs: 61_000, errorMs: 7.2 };
  assert.deepEqual(countDraft(known, 1, "x"), { fact: "rep_counted", id: "x", heat: heat.heat.id, lane: 1, at_ms: 61_000, uncertain_ms: 8 });
  assert.equal(countDraft({ ...known, frame: undefined }, 1, "x"), undefined);
  assert.equal(countDraft(known, 99, "x"), undefined);
  const over = { ...heat, heat: { ...heat.heat, status: /** @type {const} */ ("over") } };
  assert.equal(countDraft({ ...known, frame: over }, 1, "x"), undefined);
});
