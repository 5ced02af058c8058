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
  assert.deepEqual([view.surface, view.ask, view.calm], ["locked", "Finished 1:04.2", true]);
});

test("complete work shows this pad's own time while the table does not know", () => {
  book.takeFrame(at(14), 0);
  book.countUnits(64_999);
  assert.equal(shown(undefined).ask, "Finished 1:04.9");
});

test("the finish can be called only on the last station, and once", () => {
  assert.equal(shown(at(4)).finish, false);
  assert.equal(shown(at(14)).finish, true);
  book.callFinish(65_000);
  assert.equal(shown(undefined).finish, false);
});

test("who stopped is named by how: withdrawn, disqualified, did not start", () => {
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
  assert.deepEqual([view.proof, view.proofState], ["no link 0:12 · table 4 · 1 waiting", "off"]);
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
  book.callNoRep(2000);
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

test("a lift is judged at the table, so the pad takes nothing", () => {
  const frame = at(0);
  frame.event.format = "max_load";
  assert.deepEqual([shown(frame).surface, shown(frame).ask], ["locked", "Lifts are judged at the table"]);
});
