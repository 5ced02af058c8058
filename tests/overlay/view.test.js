import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { LaneBook } from "../../overlay/pad/book.js";
import { History } from "../../overlay/shared/history.js";
import { padView } from "../../overlay/pad/view.js";
import { memoryStorage, Queue } from "../../overlay/shared/queue.js";
import { frameOf } from "./events.js";

let queue;
let book;

beforeEach(() => {
  const storage = memoryStorage();
  let ids = 0;
  queue = new Queue({ storage, name: "lane-4", makeSender: () => "lane-4-x" });
  book = new LaneBook({ queue, history: new History(storage, "lane-4"), lane: 4, makeId: () => `f${(ids += 1)}` });
});

/** What the pad shows of a frame, with what differs from a good link in the middle of a heat. */
function shown(frame, more = {}) {
  if (frame) book.takeFrame(frame, 0);
  return padView({
    book,
    lane: 4,
    waiting: queue.waiting.length,
    waitingMs: 0,
    durable: true,
    link: { up: true, forMs: 60_000 },
    mode: "live",
    clockMs: 65_000,
    ...more,
  });
}

const at = (done, more) => frameOf({ 4: { done, ...more } });

test("the pad names lane, athlete, heat, station, load and round", () => {
  const view = shown(at(7));
  assert.deepEqual([view.lane, view.name, view.heat], ["4", "Entry 4", "Event · Heat 1"]);
  assert.deepEqual([view.station, view.load, view.round], ["swing", "16 kg", "round 1 of 1"]);
});

test("the number is cumulative, beside it stand the amount within the station and the next mark", () => {
  const view = shown(at(7));
  assert.deepEqual([view.number, view.into, view.next, view.progress], ["4", "2 of 10 reps", "12", 0.2]);
});

test("a station that counts each rep takes a touch", () => {
  assert.equal(shown(at(7)).surface, "tap");
});

test("a block takes a hold and says what it is worth", () => {
  const view = shown(at(1));
  assert.deepEqual([view.surface, view.ask, view.into], ["block", "Hold when the block is done", "4 reps count as 1"]);
});

test("a station that a machine counts takes a hold", () => {
  const rounds = [[{ movement: "row", amount: 20, unit: "calories" }, { movement: "swing", amount: 5 }]];
  assert.equal(shown(frameOf({ 4: {} }, { laps: 1, rounds })).surface, "measure");
});

test("before the start the surface is locked and says so", () => {
  const view = shown(at(0), { clockMs: undefined });
  assert.deepEqual([view.surface, view.ask, view.noRep, view.clock], ["locked", "Heat 1 has not started", false, "–:––"]);
});

test("without a link before the start the judge may start alone", () => {
  const waiting = { ...at(0), heat: { id: "h1", name: "Heat 1", status: "waiting" } };
  const away = { clockMs: undefined, link: { up: false, forMs: 3000 } };
  assert.equal(shown(waiting, away).surface, "start");
  assert.equal(shown(waiting, { ...away, link: { up: false, forMs: 2999 } }).surface, "locked");
  assert.equal(shown(waiting, { ...away, barred: "no" }).surface, "locked");
});

test("at the time cap the surface is locked and the number stays", () => {
  const view = shown(at(7), { clockMs: 900_000 });
  assert.deepEqual([view.surface, view.ask, view.number], ["locked", "Time cap 15:00", "4"]);
});

test("when the officials ended the heat the surface is locked", () => {
  const frame = at(7);
  frame.clock.ended_ms = 60_000;
  assert.equal(shown(frame, { clockMs: 60_000 }).ask, "The heat is over");
});

test("complete work shows the finish as the table has it", () => {
  const view = shown(at(15, { status: "finished", finish_ms: 64_230, result: "1:04.230" }));
  assert.deepEqual([view.surface, view.ask, view.calm], ["locked", "Finished 1:04.230", true]);
});

test("complete work shows this pad's own time while the table does not know", () => {
  book.takeFrame(at(14), 0);
  book.countUnits(64_999);
  assert.equal(shown(undefined).ask, "Finished 1:04.9");
});

test("the finish can be called only on the last station, and once", () => {
  assert.equal(shown(at(4)).finish, false);
  assert.equal(shown(at(14)).finish, true);
  book.make(65_000, { fact: "finished" });
  assert.equal(shown(undefined).finish, false);
});

test("a lane that stopped is named by how: withdrawn, disqualified, did not start", () => {
  const asks = ["withdrawn", "disqualified", "did_not_start"].map((status) => {
    freshBook();
    return shown(at(3, { status })).ask;
  });
  assert.deepEqual(asks, ["Withdrawn", "Disqualified", "Did not start"]);
});

/** A fresh book for each status. */
function freshBook() {
  book = new LaneBook({ queue, history: new History(memoryStorage(), "x"), lane: 4, makeId: () => "f" });
}

test("a lane that nobody is on is locked", () => {
  assert.equal(shown(frameOf({ 5: {} })).ask, "Nobody is on lane 4 in this heat");
});

test("a page that may not count says why and offers nothing", () => {
  const view = shown(at(7), { barred: "Ask the table" });
  assert.deepEqual([view.surface, view.ask, view.undo, view.noRep], ["locked", "Ask the table", "", false]);
});

test("with nothing waiting the table's number is proved", () => {
  const view = shown(at(7));
  assert.deepEqual([view.proof, view.proofState], ["table 4", "same"]);
});

test("a rep on its way makes no alarm for a second, then it is said how many wait", () => {
  book.takeFrame(at(7), 0);
  book.countUnits(1000);
  assert.equal(shown(undefined, { waitingMs: 999 }).proofState, "sending");
  const late = shown(undefined, { waitingMs: 1000 });
  assert.deepEqual([late.proof, late.proofState, late.number], ["table 4 · 1 waiting", "behind", "5"]);
});

test("without a link it says since when, what the table has and how many wait", () => {
  book.takeFrame(at(7), 0);
  book.countUnits(1000);
  const view = shown(undefined, { link: { up: false, forMs: 12_345 } });
  assert.deepEqual([view.proof, view.proofState], ["no link 0:12 · table 4 · 1 waiting · do not reload", "off"]);
});

test("where the phone can't keep what waits, it says not to close the page", () => {
  book.takeFrame(at(7), 0);
  book.countUnits(1000);
  assert.match(shown(undefined, { waitingMs: 1000, durable: false }).proof, /do not close this page/);
  assert.doesNotMatch(shown(undefined, { waitingMs: 0, durable: true }).proof, /close/);
});

test("undo names what it would strike", () => {
  book.takeFrame(at(7), 0);
  book.countUnits(1000);
  assert.equal(shown(undefined).undo, "rep 5");
  book.make(2000, { fact: "no_rep_called" });
  assert.equal(shown(undefined).undo, "no-rep");
});

test("a rehearsal is marked, whether the frame or the welcome says so", () => {
  assert.equal(shown(at(7)).rehearsal, false);
  assert.equal(shown(undefined, { mode: "rehearsal" }).rehearsal, true);
  assert.equal(shown({ ...at(7), mode: "rehearsal" }).rehearsal, true);
});

test("a medical hold is said, and counting stays open: the judge goes on recording what happens", () => {
  const view = shown(at(7, { held: true }));
  assert.deepEqual([view.heat, view.surface], ["Medical hold: off the air", "tap"]);
});

/** A frame of three attempts with a bar of 15 kg, collars and the usual discs. */
function lifts(lane, lifting = {}) {
  const frame = frameOf({ 4: { attempts: [], ...lane } }, { laps: 1, rounds: [[{ movement: "clean and jerk", amount: 3 }]] });
  const plates_milli = [25_000, 20_000, 15_000, 10_000, 5_000, 2_500, 2_000, 1_500, 1_000, 500];
  const rules = { load_unit: "kg", bar_milli: 15_000, collar_milli: 2_500, plates_milli, attempts_most: 3, ...lifting };
  return { ...frame, event: { ...frame.event, format: "max_load", lifting: rules } };
}

test("a lift is declared first: the pad shows the load, the plates for it and which attempt it is", () => {
  const view = shown(lifts(), { chosen: 92_000 });
  assert.deepEqual([view.surface, view.ask, view.number], ["declare", "Hold to declare 92 kg\n25 + 10 + 1 a side", "92"]);
  assert.equal(view.round, "attempt 1 of 3 · kg");
  assert.match(shown(lifts(), { chosen: 92_500 }).ask, /No plates make that load/);
  assert.deepEqual([view.noRep, view.noRepWord, view.proof], [false, "No lift", "table no attempt"]);
});

test("a declared lift is judged, and so it is after the time cap", () => {
  const frame = lifts({ attempts: [{ load_milli: 90_000, made: true }, { load_milli: 94_000 }], done: 1 });
  const view = shown(frame, { clockMs: 900_001 });
  assert.deepEqual([view.surface, view.ask, view.number, view.noRep], ["lift", "Hold for a good lift", "94", true]);
  assert.deepEqual([view.into, view.next, view.nextWord, view.proof], ["90 ✓  94 …", "90", "best", "table 90 ✓  94 …"]);
});

test("after the last attempt the pad says so and shows the best", () => {
  const attempts = [90, 94, 94].map((kg, index) => ({ load_milli: kg * 1000, made: index === 0 }));
  const view = shown(lifts({ attempts, done: 3 }), { chosen: 94_000 });
  assert.deepEqual([view.surface, view.ask, view.number], ["locked", "All attempts are taken", "90"]);
});

/** Two bars of two lifts, a minute for each. */
function bars(done) {
  const frame = frameOf({ 4: { done } }, { laps: 1, rounds: [[{ movement: "squat", amount: 2 }, { movement: "squat", amount: 2 }]] });
  return { ...frame, event: { ...frame.event, format: "ladder", ladder: { window_ms: 60_000 } } };
}

test("a ladder names the bar and when its window closes, and locks a lane that is out", () => {
  assert.equal(shown(bars(1), { clockMs: 60_000 }).round, "bar 1 of 2 · until 1:00");
  assert.equal(shown(bars(1), { clockMs: 60_000 }).surface, "tap");
  const out = shown(bars(1), { clockMs: 60_001 });
  assert.deepEqual([out.surface, out.ask], ["locked", "Out: the window of bar 1 closed at 1:00"]);
  assert.equal(shown(bars(2), { clockMs: 60_001 }).round, "bar 2 of 2 · until 2:00");
});

test("a bar takes no touch before its window opens, and says when it does", () => {
  const early = shown(bars(2), { clockMs: 59_999 });
  assert.deepEqual([early.surface, early.ask, early.calm], ["locked", "Bar 2 is open from 1:00", true]);
  assert.equal(shown(bars(2), { clockMs: 60_000 }).surface, "tap");
});

/** Two pieces of a minute with half a minute of rest. */
function pieces(units, timed = false) {
  const frame = frameOf({ 4: { pieces: units, done: units[0] } }, { laps: timed ? 1 : undefined, rounds: [[{ movement: "jump", amount: 5 }]] });
  const intervals = { piece_count: 2, work_ms: 60_000, rest_ms: 30_000, counts: "sum", timed };
  return { ...frame, event: { ...frame.event, format: "intervals", intervals } };
}

test("each piece starts from nothing, a rest takes no touch and says when the next piece starts", () => {
  const [first, rest, second, after] = [60_000, 60_001, 90_000, 150_001].map((clockMs) => shown(pieces([7, 2]), { clockMs }));
  assert.deepEqual([first.number, first.round, first.surface], ["7", "piece 1 of 2 · until 1:00", "tap"]);
  assert.deepEqual([rest.surface, rest.ask, rest.calm], ["locked", "Rest. Piece 2 starts at 1:30", true]);
  assert.deepEqual([second.number, second.surface, second.proof], ["2", "tap", "table 2"]);
  assert.equal(after.ask, "All pieces are done");
});

test("a timed piece that is complete locks until the next, which is open again", () => {
  assert.match(shown(pieces([5, 0], true), { clockMs: 40_000 }).ask, /^(Piece 1 done|Finished)/);
  assert.equal(shown(pieces([5, 0], true), { clockMs: 95_000 }).surface, "tap");
});

/** A pair. */
function pair(form, lane) {
  const frame = frameOf({ 4: { member: 1, members: [6, 4], ...lane } });
  return { ...frame, event: { ...frame.event, team: { form, size: 2 } } };
}

test("a relay shows whose turn it is, and a key for the change", () => {
  const keys = shown(pair("relay", { member: 2 })).team;
  assert.deepEqual(keys.map(({ word, note, on }) => [word, note, on]), [["Change to 1", "", false], ["Member 2", "works now", true]]);
});

test("in synchro a touch counts for all unless the pad is one member's, and each member's number is shown", () => {
  const all = shown(pair("synchro", { done: 4 })).team;
  assert.deepEqual(all.map(({ id, on }) => [id, on]), [["all", true], ["1", false], ["2", false]]);
  assert.deepEqual(shown(pair("synchro", { done: 4 }), { member: 2 }).team.map(({ on }) => on), [false, false, true]);
});

test("in shared work a touch counts for the first member until another is chosen", () => {
  assert.deepEqual(shown(pair("shared")).team.map(({ on }) => on), [true, false]);
  assert.deepEqual(shown(pair("shared"), { member: 2 }).team.map(({ on }) => on), [false, true]);
});

test("an athlete who works alone has no team keys", () => {
  assert.deepEqual(shown(at(7)).team, []);
});
