import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { holdMs, reduce } from "../../overlay/pad/reducer.js";
import { openPad, shownAt, viewAt } from "../../overlay/pad/state.js";
import { memoryStorage } from "../../overlay/shared/queue.js";
import { frameOf } from "./events.js";

/** The heat's clock stands at 0:00 at wall time 0, so that the time of an event is its time in the heat. */
let storage;
let state;
let effects;
let ids;
let now;
/** The page is killed before it writes what it meant to remember. */
let killed;

const instant = () => ({ nowMs: now, serverMs: now, tickMs: now, start: state?.book.frame?.start_id, id: `f${(ids += 1)}`, sender: `lane-4-${ids}` });

/** Let an event happen so long after the one before, and carry out what is written. */
function happen(event, afterMs = 1000) {
  now += afterMs;
  const next = reduce(state, event, instant());
  const remembered = next.effects.filter((effect) => effect.do === "remember" && !killed);
  for (const { key, seen } of remembered) storage.setItem(key, JSON.stringify(seen));
  for (const { key, text } of [...next.effects.filter((effect) => effect.do === "store"), ...remembered.flatMap(({ then = [] }) => then)]) {
    if (text === null) storage.removeItem(key);
    else storage.setItem(key, text);
  }
  [state, effects] = [next.state, next.effects];
}

/** A page over the storage: what a reload makes. */
function open(lane = 4) {
  state = openPad({ lane, storage }, instant());
}

const view = () => viewAt(state, { nowMs: now, serverMs: now });
const message = () => shownAt(state, { nowMs: now, serverMs: now }).message;
const choices = () => shownAt(state, { nowMs: now, serverMs: now }).choices;
const done = (kind) => effects.filter((effect) => effect.do === kind);
const sent = () => done("send").flatMap(({ facts }) => facts);
const waiting = () => state.outbox.queue.waiting;
const count = () => state.book.count.done;

const link = (up, afterMs) => happen({ type: "link", link: { up, since: now } }, afterMs);
const hear = (message, afterMs) => happen({ type: "message", message }, afterMs);
const welcome = (watermark = 0) => hear({ type: "welcome", role: "lane", mode: "live", speed: 1, watermark });
const answer = (watermark, doneByTable, more = {}) =>
  hear({ type: "acknowledged", sender: state.outbox.queue.sender, watermark, refused: [], tally: { heat: "h1", lane: 4, done: doneByTable, no_reps: 0, status: "working" }, ...more });
const frame = (lane = {}, more = {}) => happen({ type: "frame", frame: { ...frameOf({ 4: lane }), ...more } });
const press = (afterMs = 1000, surface = view().surface) => {
  const began = { surface, atMs: now + afterMs, serverMs: now + afterMs };
  happen({ type: "pressed", began, point: { x: 1, y: 2 } }, afterMs);
};
const key = (type, afterMs = 1000) => happen({ type, atMs: now + afterMs }, afterMs);

beforeEach(() => {
  storage = memoryStorage();
  [ids, now, killed] = [0, 0, false];
  open();
  link(true);
  welcome();
  frame();
});

test("a tap counts, is written before it is sent, and buzzes and rings", () => {
  press();
  assert.equal(count(), 1);
  assert.deepEqual(sent().map(({ fact, n, at_ms, sequence, lane }) => [fact, n, at_ms, sequence, lane]), [["rep_counted", 1, 4000, 1, 4]]);
  assert.deepEqual(effects.map((effect) => effect.do), ["store", "send", "buzz", "ring", "store"]);
  assert.deepEqual([done("buzz")[0].kind, done("ring")[0].point], ["mark", { x: 1, y: 2 }]);
});

test("a page that is killed between an answer and the writing of its count opens with every touch", () => {
  press();
  press();
  const counted = count();
  killed = true;
  answer(2, counted);
  assert.deepEqual([waiting().length, count()], [0, counted]);
  open();
  assert.deepEqual([waiting().length, count()], [2, counted]);
  link(true);
  welcome(2);
  frame({ done: counted });
  assert.deepEqual([waiting().length, count()], [0, counted]);
});

test("a step leaves the state it began from as it was", () => {
  const before = state;
  const shown = JSON.stringify(view());
  const begun = now;
  press();
  assert.notEqual(state, before);
  assert.deepEqual([before.outbox.count, before.book.count.done, before.touchedAtMs], [0, 0, -Infinity]);
  assert.equal(JSON.stringify(viewAt(before, { nowMs: begun, serverMs: begun })), shown);
});

test("the same state and event at the same instant make the same step", () => {
  const event = { type: "pressed", began: { surface: "tap", atMs: 5000, serverMs: 5000 } };
  const at = instant();
  const [one, other] = [reduce(state, event, at), reduce(state, event, at)];
  assert.deepEqual(one.effects, other.effects);
  assert.deepEqual(one.state.outbox.queue.waiting, other.state.outbox.queue.waiting);
});

test("a second touch inside the guard is no rep and says so; an ignored touch does not push the guard on", () => {
  frame({ done: 5 });
  press(1000);
  press(149);
  assert.deepEqual([count(), message()], [6, "Double touch ignored"]);
  assert.equal(sent().length, 0);
  press(1);
  assert.equal(count(), 7);
});

test("a touch that began on what is no longer there counts nothing", () => {
  press(1000, "block");
  assert.deepEqual([count(), effects], [0, []]);
});

test("a block is held and counts whole", () => {
  frame({ done: 1 });
  assert.equal(view().surface, "block");
  press();
  assert.deepEqual([count(), sent()[0].fact, done("buzz")[0].kind], [5, "block_completed", "block"]);
});

test("how long the surface is held goes by what it is; any of a format's own is held like a station", () => {
  assert.deepEqual(["tap", "locked", "block", "lift", "start"].map(holdMs), [0, 0, 500, 500, 1000]);
});

test("of a station that a machine counts, steps may be counted before the rest of it is held for", () => {
  const rounds = [[{ movement: "row", amount: 20, unit: "calories" }, { movement: "swing", amount: 5 }]];
  happen({ type: "frame", frame: frameOf({ 4: {} }, { laps: 1, rounds }) });
  assert.deepEqual([view().surface, choices()], ["measure", ["+1", "+5", "+10"]]);
  happen({ type: "chosen", choice: "+5" });
  assert.deepEqual([count(), sent()[0].n], [5, 5]);
  press();
  assert.deepEqual([count(), sent()[0].n], [20, 15]);
});

test("a key beside the surface that has gone since does nothing", () => {
  happen({ type: "chosen", choice: "+5" });
  assert.deepEqual([count(), effects], [0, []]);
});

test("a no-rep is called at once, and its reason may follow for five seconds", () => {
  key("noRep");
  assert.deepEqual([state.book.count.no_reps, done("buzz")[0].kind, choices()[0]], [1, "noRep", "range"]);
  happen({ type: "chosen", choice: "range" });
  assert.deepEqual(sent().map(({ fact, reason }) => [fact, reason]), [["fact_voided", "reason added"], ["no_rep_called", "range"]]);
  assert.deepEqual([state.book.count.no_reps, choices()], [1, []]);
  assert.equal(new Set(waiting().map(({ id }) => id)).size, 3);
});

test("after five seconds the reasons are gone", () => {
  key("noRep");
  happen({ type: "tick" }, 5000);
  assert.deepEqual(choices(), []);
});

test("undo strikes the last fact of this phone and names it", () => {
  frame({ done: 5 });
  press();
  key("undo");
  assert.deepEqual([count(), message()], [5, "Undone: rep 3"]);
  assert.deepEqual(sent().map(({ fact, voids }) => [fact, voids]), [["fact_voided", waiting()[0].id]]);
});

test("with nothing to undo the key says so and sends nothing", () => {
  key("undo");
  assert.deepEqual([message(), sent(), done("buzz")[0].kind], ["Nothing to undo on this phone", [], "short"]);
});

test("a key that is let go too early says what to do", () => {
  const said = ["surface", "undo", "noRep", "finish", "member"].map((name) => {
    happen({ type: "short", key: name });
    return message();
  });
  assert.deepEqual(said, ["Too short: hold", "Hold to undo", "Hold to call a no-rep", "Hold to call the finish", "Hold to change"]);
  happen({ type: "tick" }, 4000);
  assert.equal(message(), "");
});

test("without a link reps count on and wait; with the next one they go, and an answer takes them away", () => {
  frame({ done: 5 });
  link(false);
  press();
  press();
  assert.deepEqual([count(), sent(), waiting().length], [7, [], 2]);
  assert.match(view().proof, /no link 0:03 · table 2 · 2 waiting/);
  link(true);
  assert.deepEqual(sent(), []);
  welcome(0);
  assert.deepEqual(sent().map(({ sequence }) => sequence), [1, 2]);
  answer(2, 7);
  assert.deepEqual([waiting().length, count(), view().proof], [0, 7, "table 4"]);
});

test("what was sent on a link that broke is sent again, and not what the server already has", () => {
  frame({ done: 5 });
  press();
  press();
  link(false);
  link(true);
  welcome(1);
  assert.deepEqual(sent().map(({ sequence }) => sequence), [2]);
  assert.equal(count(), 7);
});

test("a page that was loaded again has what waited and what may be undone", () => {
  link(false);
  press();
  open();
  frame();
  assert.deepEqual([waiting().length, count(), view().undo], [1, 1, "rep 1"]);
});

test("a gap is filled from the number the server expects", () => {
  press();
  press(1000, "tap");
  hear({ type: "gap", expected: 1, found: 2 });
  assert.deepEqual([sent().map(({ sequence }) => sequence), done("restart")], [waiting().map(({ sequence }) => sequence), []]);
});

test("a server that lost what it had acknowledged gets a new sender, and the page says hello again", () => {
  frame({ done: 5 });
  press();
  press();
  answer(1, 6);
  const before = state.outbox.queue.sender;
  hear({ type: "gap", expected: 1, found: 2 });
  assert.equal(state.outbox.queue.sender, before, "a gap that an answer overtook");
  welcome(0);
  hear({ type: "gap", expected: 1, found: 2 });
  assert.notEqual(state.outbox.queue.sender, before);
  assert.deepEqual([done("restart").length, sent(), waiting().map(({ sequence }) => sequence)], [1, [], [1]]);
});

test("a refused fact goes, is no longer counted, and the reason is said", () => {
  frame({ done: 5 });
  press();
  answer(1, 5, { refused: [{ sequence: 1, code: "late", message: "the heat is over" }] });
  assert.deepEqual([count(), waiting().length, view().undo], [5, 0, ""]);
  assert.equal(message(), "The table did not take it: the heat is over");
});

test("an answer about another heat does not change the count", () => {
  frame({ done: 5 });
  press();
  answer(1, 40, { tally: { heat: "h9", lane: 4, done: 40, no_reps: 0, status: "working" } });
  assert.equal(count(), 6);
});

test("another heat on the floor starts anew and forgets what was chosen for the last", () => {
  happen({ type: "frame", frame: { ...frameOf({ 4: { done: 3 } }), heat: { id: "h2", name: "Heat 2", status: "running" } } });
  assert.deepEqual([count(), view().heat, view().undo], [3, "Event · Heat 2", ""]);
});

test("when the table corrects the count, the pad takes it and says so", () => {
  frame({ done: 7 });
  happen({ type: "tick" }, 2000);
  frame({ done: 9 });
  assert.deepEqual([count(), message()], [9, "The table set your count from 4 to 6"]);
});

test("a lane under a medical hold counts on, and the pad says that it is off the air", () => {
  frame({ done: 5, held: true });
  assert.equal(view().heat, "Medical hold: off the air");
  press();
  assert.deepEqual([count(), sent().length], [6, 1]);
});

test("when the heat is over, or its time is up, nothing counts any more", () => {
  const over = { heat: { id: "h1", name: "Heat 1", status: "over" } };
  frame({ done: 5 }, over);
  press();
  key("noRep");
  key("finish");
  assert.deepEqual([view().surface, view().ask, waiting().length], ["locked", "The heat is over", 0]);
  frame({ done: 5 });
  happen({ type: "tick" }, 900_000);
  press();
  assert.deepEqual([view().ask, waiting().length], ["Time cap 15:00", 0]);
});

test("a lane that nobody is on locks the pad", () => {
  happen({ type: "frame", frame: frameOf({ 3: {} }) });
  press();
  assert.deepEqual([view().ask, waiting().length], ["Nobody is on lane 4 in this heat", 0]);
});

test("the finish is called once, on the last station", () => {
  key("finish");
  assert.equal(waiting().length, 0);
  frame({ done: 8 });
  key("finish");
  key("finish");
  assert.deepEqual(waiting().map(({ fact }) => fact), ["finished"]);
  assert.match(message(), /^Finish called at 0:06/);
});

test("without a table the judge may start alone, and the heat's clock runs from there", () => {
  happen({ type: "frame", frame: { ...frameOf({ 4: {} }), heat: { id: "h1", name: "Heat 1", status: "waiting" }, clock: { cap_ms: 900_000 } } });
  link(false);
  happen({ type: "tick" }, 3000);
  assert.equal(view().surface, "start");
  press(2000);
  happen({ type: "tick" }, 5000);
  assert.equal(view().clock, "0:05");
});

test("an athlete withdraws with a reason, and the lane is locked", () => {
  happen({ type: "withdrawn", reason: "injury" });
  assert.deepEqual(sent().map(({ fact, reason }) => [fact, reason]), [["withdrawn", "injury"]]);
  assert.deepEqual([view().ask, view().withdraw], ["Withdrawn", false]);
  happen({ type: "withdrawn", reason: "" });
  assert.equal(waiting().length, 1);
});

test("in a relay a member's key passes the turn; in other teams it says for whom a touch counts, and is remembered", () => {
  const team = (form) => ({ ...frameOf({ 4: { member: 1, members: [5, 5], done: 5 } }), event: { ...frameOf({ 4: {} }).event, team: { form, size: 2 } } });
  happen({ type: "frame", frame: team("relay") });
  happen({ type: "member", member: "2", atMs: now });
  assert.deepEqual([sent()[0].fact, sent()[0].member], ["exchanged", 2]);
  storage = memoryStorage();
  open();
  happen({ type: "frame", frame: team("synchro") });
  happen({ type: "member", member: "2", atMs: now });
  assert.equal(storage.getItem("tallywire.lane-4.member"), "h1 2");
  press();
  assert.deepEqual(waiting().map(({ fact, member }) => [fact, member]), [["rep_counted", 2]]);
});

test("a server whose disk is full is told of until it has room, or another welcome comes", () => {
  hear({ type: "storage", state: "held", message: "full" });
  now += 3_600_000;
  assert.equal(message(), "The server says: full");
  hear({ type: "storage", state: "ok", message: "room" });
  assert.equal(message(), "The server says: room");
  hear({ type: "storage", state: "held", message: "full" });
  hear({ type: "welcome", role: "lane", mode: "live", speed: 1, watermark: 0 });
  assert.equal(message(), "");
});

test("a page without a key, with no lane, or open twice may not count", () => {
  hear({ type: "error", code: "not_allowed", message: "no" });
  assert.match(view().ask, /no valid key/);
  hear({ type: "error", code: "bad_message", message: "torn" });
  assert.equal(message(), "The table could not read a message: torn");
  happen({ type: "doubled" });
  assert.match(view().ask, /another window/);
  assert.equal(done("close").length, 1);
  open(Number.NaN);
  assert.match(view().ask, /no lane in the address/);
});

test("a storage that refuses a write is told on the pad while facts wait", () => {
  link(false);
  press();
  happen({ type: "notKept" });
  assert.match(view().proof, /do not close this page/);
});

test("hands are swapped and remembered", () => {
  happen({ type: "hand" });
  assert.deepEqual([state.hand, storage.getItem("tallywire.hand")], ["left", "left"]);
  happen({ type: "hand" });
  assert.equal(state.hand, "right");
});

test("a lift is chosen, declared and judged, and the choice is gone with it", () => {
  const lifting = { load_unit: "kg", bar_milli: 20_000, collar_milli: 0, plates_milli: [10_000, 5_000, 1_000] };
  const plain = frameOf({ 4: { attempts: [] } });
  happen({ type: "frame", frame: { ...plain, event: { ...plain.event, format: "max_load", total_done: undefined, lifting } } });
  key("noRep");
  assert.equal(message(), "Declare the load first");
  happen({ type: "chosen", choice: "+10" });
  assert.equal(view().number, "30");
  press();
  assert.deepEqual([sent()[0].fact, sent()[0].load_milli, view().surface, state.chosen], ["attempt_declared", 30_000, "lift", undefined]);
  key("noRep");
  assert.deepEqual([sent()[0].fact, view().number], ["attempt_failed", "30"]);
  assert.deepEqual(choices(), ["−10", "−2", "+2", "+10", "+50"]);
});

test("a touch names the start, and after a false one nothing of it can be undone and times begin anew", () => {
  frame({}, { start_id: "s1" });
  press(9000);
  assert.equal(sent()[0].start, "s1");
  answer(1, 1);
  frame({}, { start_id: "s2", recalled: ["s1"], clock: { cap_ms: 900_000, zero_unix_ms: now, zero_at_ms: 0 } });
  assert.equal(view().undo, "");
  const began = { surface: "tap", atMs: 1000, serverMs: now + 1000 };
  happen({ type: "pressed", began }, 1000);
  assert.deepEqual(sent().map(({ at_ms, start }) => [at_ms, start]), [[1000, "s2"]]);
});

test("a withdrawal names no start: it stands though the start was false", () => {
  frame({}, { start_id: "s1" });
  happen({ type: "withdrawn", reason: "" });
  assert.deepEqual([sent()[0].fact, sent()[0].start], ["withdrawn", undefined]);
});

test("an announced start is counted down on the pad, to zero and not past it", () => {
  frame({}, { clock: { cap_ms: 900_000, zero_unix_ms: now + 11_500, zero_at_ms: 0 } });
  const shown = () => [view().clock, view().ask, view().surface];
  assert.deepEqual(shown(), ["−0:11", "Starts in 11", "locked"]);
  happen({ type: "tick" }, 9600);
  assert.deepEqual(shown(), ["−0:01", "Starts in 1", "locked"]);
  happen({ type: "tick" }, 900);
  assert.deepEqual(shown(), ["0:00", "", "tap"]);
});

test("a page that is loaded again has what was answered, also before a frame has shown it", () => {
  press();
  answer(1, 1);
  open();
  assert.equal(count(), 1);
});
