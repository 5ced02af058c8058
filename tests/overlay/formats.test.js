import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { formatText } from "../../overlay/air/stations.js";
import { apart } from "../../overlay/air/words.js";
import { cellTexts as callCells, endHead } from "../../overlay/call/words.js";
import { FORMATS, factWords, formatOf } from "../../overlay/formats/registry.js";
import { cellTexts as gapCells } from "../../overlay/gaps/words.js";
import { reduce } from "../../overlay/pad/reducer.js";
import { openPad, shownAt, viewAt } from "../../overlay/pad/state.js";
import { memoryStorage } from "../../overlay/shared/queue.js";
import { laneRow } from "../../overlay/table/rows.js";
import { CARRY } from "../formats/carry/page.js";
import { frameOf } from "./events.js";
import * as pictures from "./frames.js";

const INSTANT = { nowMs: 65_000, serverMs: 65_000, tickMs: 65_000, id: "f1", sender: "lane-4-x" };

/** A frame of a heat in a format. */
const framed = (format, lane = {}) => {
  const frame = frameOf({ 4: { done: 7, reached_ms: 0, remarks: 0, ...lane } });
  return { ...frame, event: { ...frame.event, format, carry: { lap_metres: 4 } } };
};

/** A pad that has seen a frame. */
const padOf = (frame) => {
  const pad = openPad({ lane: 4, storage: memoryStorage() }, INSTANT);
  return reduce(pad, { type: "frame", frame }, INSTANT).state;
};

beforeEach(() => void FORMATS.set("carry", CARRY));
afterEach(() => void FORMATS.delete("carry"));

test("a format that is registered draws its own pad: where the lane is, what the surface asks, and its keys", () => {
  const pad = padOf(framed("carry", { laps: 1 }));
  const view = viewAt(pad, INSTANT);
  assert.deepEqual([view.round, view.surface, view.ask, view.noRepWord], ["lap 2", "metre", "Press for every metre", "Dropped"]);
  assert.deepEqual([shownAt(pad, INSTANT).choices, view.proof], [["the lap"], "no link 0:00 · table 1 lap"]);
});

test("what its surface and its keys do is counted like any other work", () => {
  const began = { surface: "metre", atMs: 65_000, serverMs: 65_000 };
  const pressed = reduce(padOf(framed("carry", { done: 5, laps: 1 })), { type: "pressed", began }, INSTANT).state;
  assert.deepEqual([pressed.book.count.done, pressed.book.count.laps], [6, 1]);
  const chosen = reduce(pressed, { type: "chosen", choice: "the lap" }, { ...INSTANT, id: "f2" }).state;
  assert.deepEqual([chosen.book.count.done, chosen.book.count.laps], [8, 2]);
  assert.deepEqual(chosen.outbox.queue.waiting.map(({ fact, n }) => [fact, n]), [["rep_counted", 1], ["rep_counted", 2]]);
});

test("call, gaps, table and on-air pictures say what the format says", () => {
  const frame = pictures.frameOf([pictures.laneOf(1, { done: 3, remarks: 0 }), pictures.laneOf(2, { done: 1, gap_leader: 2 })]);
  const carried = { ...frame, event: { ...frame.event, format: "carry" }, to_beat: {} };
  const [lane, other] = Object.values(carried.lanes);
  assert.deepEqual([callCells(carried, lane).meaning, gapCells(carried, lane).meaning], ["back to the rack", "back to the rack"]);
  assert.deepEqual([endHead(carried), apart(carried, lane, other).score, formatText(carried.event)], ["carried", "2 metres", "Carry · 5 rounds"]);
  assert.match(laneRow(carried, lane, 65_000).into, /carried$/);
});

test("a format that is not known is counted plainly, and the pad says so", () => {
  const known = viewAt(padOf(framed("for_time")), INSTANT);
  const unknown = viewAt(padOf(framed("from_next_year")), INSTANT);
  assert.deepEqual({ ...unknown, heat: "" }, { ...known, heat: "" });
  assert.equal(unknown.heat, "Event · Heat 1 · This page does not know the format from next year: it counts plainly");
  assert.equal(formatText({ ...pictures.FIVE, format: "from_next_year" }), "from next year · 5 rounds");
});

test("every format says everything that the pages ask", () => {
  const asked = formatOf({ format: "none of these" });
  for (const [name, format] of FORMATS) {
    assert.deepEqual(Object.keys(format).sort(), Object.keys(asked).sort(), name);
    for (const part of ["pad", "call", "gaps", "air", "table"]) assert.deepEqual(Object.keys(format[part]).sort(), Object.keys(asked[part]).sort(), name);
  }
});

test("a kind of fact that one format has is named wherever it is told", () => {
  assert.equal(factWords("attempt_made")?.name, "good lift");
  assert.equal(factWords("attempt_failed")?.done({ reason: "time" }), "no lift: time");
  assert.equal(factWords("rep_counted"), undefined);
});

test("a lift is judged only once it is declared", () => {
  const { press } = formatOf({ format: "max_load" }).pad;
  const moment = (attempts) => ({ count: { done: 0, no_reps: 0, out: false, attempts } });
  assert.equal(press(moment([]), "lift"), undefined);
  assert.deepEqual(press(moment([{ load_milli: 80_000 }]), "lift"), { fact: "attempt_made" });
});

test("a correction inside a block, which changes no scored rep, is not told as a number set to itself", () => {
  const { corrected } = formatOf({ format: "for_time" }).pad;
  assert.equal(corrected(108, 108), "The table changed the work inside your block");
  assert.equal(corrected(107, 108), "The table set your count from 107 to 108");
});
