import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

import { editFields, editOf, editedBy, lineAfter } from "../../overlay/desk/edits.js";
import { reduce } from "../../overlay/desk/reducer.js";
import { openDesk, sideOf } from "../../overlay/desk/state.js";
import { memoryStorage } from "../../overlay/shared/queue.js";

const [A, B, C] = ["heat", "track", "clock"].map((view) => ({ view, params: {}, name: "" }));
const NEW = { view: "athlete", params: { who: "lane:4" }, name: "The favourite" };
const asked = (more) => ({ rundown: [A, B, C], line: 1, item: B, done: [], ...more });

test("what is in preview goes below the line in hand, or to the end; a line moves, goes, and comes back", () => {
  assert.deepEqual(editedBy([A, B, C], editOf("add", asked({ item: NEW }))), [A, B, NEW, C]);
  assert.deepEqual(editedBy([A, B, C], editOf("add", asked({ item: NEW, line: undefined }))), [A, B, C, NEW]);
  assert.deepEqual(editedBy([A, B, C], editOf("up", asked({}))), [B, A, C]);
  assert.deepEqual(editedBy([A, B, C], editOf("down", asked({}))), [A, C, B]);
  const gone = editOf("remove", asked({}));
  assert.deepEqual(editedBy([A, B, C], gone), [A, C]);
  assert.deepEqual(editedBy([A, C], editOf("restore", { rundown: [A, C], line: undefined, item: undefined, done: [gone] })), [A, B, C]);
});

test("what cannot be done is said: no line, no room to move, nothing to take back, or lines that another desk changed", () => {
  for (const [kind, more, said] of [
    ["up", { line: 0 }, /first line/],
    ["down", { line: 2 }, /last line/],
    ["remove", { line: undefined }, /choose one first/],
    ["add", { item: undefined }, /choose a view/],
    ["restore", {}, /no change of yours/],
    ["restore", { done: [{ line: 0, gone: [], added: [NEW] }] }, /Another desk/],
  ]) assert.match(String(editOf(kind, asked(more))), said);
});

test("the server is told lines from 1, each with its view, what it shows and its name", () => {
  const edit = { line: 1, gone: [B], added: [NEW, A] };
  assert.deepEqual(editFields(edit), { line: 2, gone: 1, added: [{ view: "athlete", who: "lane:4", name: "The favourite" }, { view: "heat" }] });
});

test("a line that stays in hand is where it is now, the nearest of several that are alike, or nowhere", () => {
  assert.equal(lineAfter([A, B, C], [NEW, A, B, C], 1), 2);
  assert.equal(lineAfter([A, B, A], [A, A, B], 2), 1);
  assert.equal(lineAfter([A, B, C], [A, C], 1), undefined);
});

let state;
let effects;
let now;
const happen = (event) => {
  now += 1000;
  ({ state, effects } = reduce(state, event, { nowMs: now, serverMs: now, known: true, tickMs: now, id: `i${now}` }));
};
const came = (rundown, edits, digest) => {
  const main = { name: "Main", width: 1920, height: 1080, hold_ms: 0, delay_ms: 0, automatic: "off", rundown, rundown_edits: edits, rundown_digest: digest };
  happen({ type: "frame", view: "show", frame: { competition: { name: "Cup" }, heats: { h: { name: "H" } }, parts: {}, views: { heat: { title: "Heat", least: 0, most: 0 } }, outputs: { main }, held: [] }, unixMs: now });
};
const act = (id) => happen({ type: "act", id });
const sent = () => effects.filter((effect) => effect.do === "send").flatMap(({ message }) => message.facts);

beforeEach(() => {
  now = 100_000;
  state = openDesk({ tab: "t1", sender: "t1-x", output: "", storage: memoryStorage() }, now);
  happen({ type: "begin" });
  happen({ type: "link", link: { up: true, since: now } });
  came([A, B, C], 4, "d".repeat(16));
});

test("a change says of which rundown it is one; the line in hand goes along, and the next change waits for this one", () => {
  happen({ type: "line", line: 1 });
  act("up");
  const [{ fact, edit, before, line, gone, output }] = sent();
  assert.deepEqual([fact, edit, before, line, gone, output], ["rundown_edited", 5, "d".repeat(16), 1, 2, "main"]);
  act("up");
  assert.deepEqual(sent(), []);
  came([B, A, C], 5, "e".repeat(16));
  assert.deepEqual([sideOf(state).hand.line, sideOf(state).hand.item], [0, B]);
  act("restore");
  assert.deepEqual(sent()[0].added, [{ view: "heat" }, { view: "track" }]);
});

test("what is in preview stays in preview when another desk changes the rundown", () => {
  happen({ type: "line", line: 2 });
  came([C, A], 5, "e".repeat(16));
  assert.deepEqual([sideOf(state).hand.line, sideOf(state).hand.item], [0, C]);
  came([A], 6, "f".repeat(16));
  assert.deepEqual([sideOf(state).hand.line, sideOf(state).hand.item], [undefined, C]);
});

test("a change that was refused can be made again at once", () => {
  happen({ type: "line", line: 1 });
  act("remove");
  happen({ type: "message", message: { type: "acknowledged", watermark: 1, refused: [{ sequence: 1, message: "another desk was first" }] } });
  assert.match(state.message.text, /another desk was first/);
  act("remove");
  assert.equal(sent().length, 1);
});

test("saving is asked of the server for the output that is worked, and its answer is said", () => {
  happen({ type: "saveRundown" });
  assert.deepEqual(effects, [{ do: "saveRundown", output: "main" }]);
  happen({ type: "said", text: "done" });
  assert.equal(state.message.text, "done");
});
