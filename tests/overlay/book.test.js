import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { LaneBook, onLastStation, unitsLeft } from "../../overlay/pad/book.js";
import { History } from "../../overlay/shared/history.js";
import { memoryStorage, Queue } from "../../overlay/shared/queue.js";
import { frameOf } from "./events.js";

let storage;
let queue;
let book;
let corrections;
let ids;

/** A page over the storage: what a reload makes. */
function open() {
  queue = new Queue({ storage, name: "lane-4", makeSender: () => "lane-4-x" });
  book = new LaneBook({
    queue,
    history: new History(storage, "lane-4"),
    lane: 4,
    makeId: () => `f${(ids += 1)}`,
    onCorrection: (correction) => corrections.push(correction),
  });
}

beforeEach(() => {
  storage = memoryStorage();
  [corrections, ids] = [[], 0];
  open();
  book.takeFrame(frame(0), 0);
});

const frame = (done, more) => frameOf({ 4: { done, ...more } });
const acknowledge = (watermark, done, { no_reps = 0, refused = [], status = "working", heat = "h1" } = {}, now = 0) =>
  book.acknowledge({ watermark, refused, tally: { heat, lane: 4, done, scored_reps: 0, no_reps, status } }, now);
const kinds = () => queue.waiting.map((fact) => fact.fact);

test("a rep counts at once, before the table has heard of it", () => {
  book.countUnits(1000);
  assert.equal(book.count.done, 1);
  assert.equal(book.table.done, 0);
});

test("a fact carries heat, lane, time and kind as the wire wants them", () => {
  book.countUnits(1234.6);
  assert.deepEqual(queue.waiting, [
    { fact: "rep_counted", id: "f1", heat: "h1", lane: 4, at_ms: 1235, n: 1, sender: "lane-4-x", sequence: 1 },
  ]);
});

test("an acknowledged rep moves to the table's number and is not counted twice", () => {
  book.countUnits(1000);
  acknowledge(1, 1);
  assert.deepEqual([book.count.done, book.table.done], [1, 1]);
  assert.deepEqual(corrections, []);
});

test("a frame that left before the last answer does not pull the number back", () => {
  book.countUnits(1000);
  acknowledge(1, 1, {}, 5000);
  book.takeFrame(frame(0), 5010);
  assert.equal(book.count.done, 1);
});

test("a frame that comes ahead of the answer does not count a waiting rep twice", () => {
  book.countUnits(1000);
  book.takeFrame(frame(1), 5000);
  assert.equal(book.count.done, 1);
});

test("the table's correction is taken over and announced once the link is quiet", () => {
  book.countUnits(1000);
  acknowledge(1, 1, {}, 0);
  book.takeFrame(frame(15), 800);
  assert.equal(book.count.done, 15);
  assert.deepEqual(corrections, [{ from: 1, to: 15 - 4 + 1 }]);
});

test("a correction that comes with an answer keeps what still waits", () => {
  book.countUnits(1000);
  book.countUnits(2000);
  acknowledge(1, 14);
  assert.equal(book.count.done, 15);
  assert.equal(corrections.length, 1);
});

test("reps from before a correction can't be undone, because that would change nothing", () => {
  book.countUnits(1000);
  acknowledge(1, 14);
  assert.equal(book.undoable, undefined);
});

test("undo strikes the last rep that waits", () => {
  book.countUnits(1000);
  book.countUnits(2000);
  assert.equal(book.undo(3000).number, 1); // the block began after the first rep and is worth nothing yet
  assert.equal(book.count.done, 1);
  assert.deepEqual([queue.waiting[2].fact, queue.waiting[2].voids], ["fact_voided", "f2"]);
});

test("undo strikes a rep that the table already has", () => {
  book.countUnits(1000);
  acknowledge(1, 1);
  book.undo(2000);
  assert.deepEqual([book.count.done, book.table.done], [0, 1]);
  acknowledge(2, 0);
  assert.deepEqual([book.count.done, corrections], [0, []]);
});

test("undo goes back one fact at a time and stops at the first", () => {
  book.countUnits(1000);
  book.completeBlock(2000);
  book.callNoRep(3000);
  const struck = [4000, 5000, 6000, 7000].map((at) => book.undo(at)?.fact);
  assert.deepEqual(struck, ["no_rep_called", "block_completed", "rep_counted", undefined]);
  assert.deepEqual(book.count, { done: 0, no_reps: 0, out: false });
});

test("undo of a block goes back to where the block stood before", () => {
  book.countUnits(1000);
  book.countUnits(2000, 2);
  book.completeBlock(3000);
  assert.equal(book.count.done, 5);
  book.undo(4000);
  assert.equal(book.count.done, 3);
});

test("undo works after a reload", () => {
  book.countUnits(1000);
  acknowledge(1, 1);
  open();
  book.takeFrame(frame(1), 0);
  assert.equal(book.undo(2000).id, "f1");
  assert.equal(book.count.done, 0);
});

test("a no-rep never lowers the count", () => {
  book.countUnits(1000);
  book.callNoRep(2000);
  assert.deepEqual(book.count, { done: 1, no_reps: 1, out: false });
});

test("a reason given afterwards strikes the call and makes it again at the same time", () => {
  book.callNoRep(2000);
  book.explainNoRep("lock-out");
  assert.deepEqual(kinds(), ["no_rep_called", "fact_voided", "no_rep_called"]);
  assert.deepEqual([queue.waiting[2].reason, queue.waiting[2].at_ms], ["lock-out", 2000]);
  assert.equal(book.count.no_reps, 1);
});

test("a reason without a no-rep before it does nothing", () => {
  book.countUnits(1000);
  book.explainNoRep("lock-out");
  assert.deepEqual(kinds(), ["rep_counted"]);
});

test("times never go back when the clock is set right, and never below 0", () => {
  book.countUnits(-50);
  book.countUnits(900);
  book.completeBlock(880);
  assert.deepEqual(queue.waiting.map((fact) => fact.at_ms), [0, 900, 900]);
});

test("a whole station of more than a thousand units goes out in facts of a thousand", () => {
  book.countUnits(1000, 2500);
  assert.deepEqual(queue.waiting.map((fact) => fact.n), [1000, 1000, 500]);
});

test("withdrawing stops the count, and undo takes it back", () => {
  book.withdraw(1000, "injury");
  book.countUnits(2000);
  assert.deepEqual([book.count.out, book.count.done], [true, 0]);
  book.undo(3000);
  book.undo(3000);
  assert.equal(book.count.out, false);
});

test("who the table withdrew, disqualified or did not see start is out", () => {
  for (const status of ["withdrawn", "disqualified", "did_not_start"]) {
    open();
    book.takeFrame(frame(0, { status }), 0);
    assert.equal(book.count.out, true);
  }
});

test("a refused fact counts no more, and there is nothing to undo of it", () => {
  book.countUnits(1000);
  acknowledge(1, 0, { refused: [{ sequence: 1, code: "unknown_heat", message: "found no such heat" }] });
  assert.deepEqual([book.count.done, book.undoable, corrections], [0, undefined, []]);
});

test("after a lost link the number stays, although the answers were lost", () => {
  for (const at of [1000, 2000, 3000]) book.countUnits(at);
  queue.take();
  book.welcome(2, 10_000);
  book.settle(20_000); // the newest frame is still the one from before
  assert.deepEqual([book.count.done, queue.waiting.length], [3, 1]);
  acknowledge(3, 3, {}, 20_000);
  book.takeFrame(frame(3), 21_000);
  assert.deepEqual([book.count.done, corrections], [3, []]);
});

test("a rep under a number that the server gave away before a crash is not taken for one it has", () => {
  book.countUnits(1000);
  book.welcome(7, 0);
  assert.deepEqual([book.table.done, book.count.done, queue.waiting[0].sequence], [0, 1, 8]);
});

test("a page that opens with facts waiting is not misled by a frame that holds them already", () => {
  book.countUnits(1000);
  open();
  book.welcome(0, 0);
  book.takeFrame(frame(1), 10);
  acknowledge(1, 1, {}, 20);
  assert.deepEqual([book.count.done, corrections], [1, []]);
  assert.equal(book.undoable.id, "f1");
});

test("the next heat starts from its own count and knows nothing to undo", () => {
  book.countUnits(1000);
  book.takeFrame({ ...frame(0), heat: { id: "h2", name: "Heat 2", status: "waiting" } }, 0);
  assert.deepEqual([book.count.done, book.undoable], [0, undefined]);
  assert.equal(queue.waiting.length, 1);
});

test("an answer about another heat does not touch this one", () => {
  book.countUnits(1000);
  acknowledge(1, 40, { heat: "h0" });
  assert.equal(book.count.done, 1);
});

test("the finish call stands until it is undone", () => {
  book.callFinish(1000);
  assert.equal(book.finishCall.at_ms, 1000);
  book.undo(2000);
  assert.equal(book.finishCall, undefined);
});

test("the units left of a station and the last station of fixed work are known", () => {
  const { event } = frame(0);
  assert.equal(unitsLeft(event, 0), 1);
  assert.equal(unitsLeft(event, 7), 8);
  assert.deepEqual([4, 5, 14, 15].map((done) => onLastStation(event, done)), [false, true, true, false]);
  assert.equal(onLastStation(frameOf({ 4: {} }, { laps: undefined }).event, 14), false);
});
