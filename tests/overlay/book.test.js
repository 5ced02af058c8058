import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { LaneBook } from "../../overlay/pad/book.js";
import { onLastStation, unitsLeft } from "../../overlay/shared/plan.js";
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
  book.make(3000, { fact: "no_rep_called" });
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
  book.make(2000, { fact: "no_rep_called" });
  assert.deepEqual(book.count, { done: 1, no_reps: 1, out: false });
});

test("a reason given afterwards strikes the call and makes it again at the same time", () => {
  book.make(2000, { fact: "no_rep_called" });
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
  book.make(1000, { fact: "finished" });
  assert.equal(book.finishCall().at_ms, 1000);
  book.undo(2000);
  assert.equal(book.finishCall(), undefined);
});

test("the units left of a station and the last station of fixed work are known", () => {
  const { event } = frame(0);
  assert.equal(unitsLeft(event, 0), 1);
  assert.equal(unitsLeft(event, 7), 8);
  assert.deepEqual([4, 5, 14, 15].map((done) => onLastStation(event, done)), [false, true, true, false]);
  assert.equal(onLastStation(frameOf({ 4: {} }, { laps: undefined }).event, 14), false);
});

/** The same lane in an event with rules of its own. */
const ruled = (rules, lane) => ({ ...frame(0, lane), event: { ...frame(0).event, ...rules } });
const LIFTING = { load_unit: "kg", bar_milli: 20_000, collar_milli: 0, plates_milli: [5_000, 1_000], attempts_most: 3 };

test("a lift is declared, then judged, and undo goes back over both", () => {
  book.takeFrame(ruled({ format: "max_load", lifting: LIFTING }, { attempts: [] }), 0);
  book.make(1000, { fact: "attempt_declared", load_milli: 80_000 });
  book.make(2000, { fact: "attempt_declared", load_milli: 82_000 }); // before it is judged a load may be declared anew
  book.make(3000, { fact: "attempt_made" });
  assert.deepEqual(kinds(), ["attempt_declared", "attempt_declared", "attempt_made"]);
  assert.deepEqual([book.count.attempts, book.count.done], [[{ load_milli: 82_000, made: true }], 1]);
  const undone = [4000, 5000, 6000].map((at) => (book.undo(at), [book.count.attempts, book.count.done]));
  assert.deepEqual(undone, [[[{ load_milli: 82_000 }], 0], [[{ load_milli: 80_000 }], 0], [[], 0]]);
});

test("a missed lift is a no-rep and takes an attempt", () => {
  book.takeFrame(ruled({ format: "max_load", lifting: LIFTING }, { attempts: [{ load_milli: 80_000 }] }), 0);
  book.make(3000, { fact: "attempt_failed" });
  assert.deepEqual([book.count.attempts, book.count.no_reps, book.count.done], [[{ load_milli: 80_000, made: false }], 1, 1]);
});

test("what the table says of the attempts is taken over", () => {
  book.takeFrame(ruled({ format: "max_load", lifting: LIFTING }, { attempts: [] }), 0);
  book.make(1000, { fact: "attempt_declared", load_milli: 80_000 });
  const tally = { heat: "h1", lane: 4, done: 1, scored_reps: 1, no_reps: 0, status: "working", attempts: [{ load_milli: 80_000, made: true }] };
  book.acknowledge({ watermark: 1, refused: [], tally }, 0);
  assert.deepEqual(book.count.attempts, [{ load_milli: 80_000, made: true }]);
});

test("a relay's turn passes and comes back with undo", () => {
  book.takeFrame(ruled({ team: { form: "relay", size: 2 } }, { member: 1, members: [0, 0] }), 0);
  book.exchange(1000, 1); // it is the first one's turn already
  book.exchange(2000, 2);
  assert.deepEqual([kinds(), queue.waiting[0].member, book.count.member], [["exchanged"], 2, 2]);
  book.undo(3000);
  assert.equal(book.count.member, 1);
});

test("in synchro the lane has what all have done, and undo takes from the one who was counted", () => {
  book.takeFrame(ruled({ team: { form: "synchro", size: 2 } }, { member: 1, members: [0, 0] }), 0);
  book.countUnits(1000, 1, 1);
  assert.deepEqual([book.count.done, book.count.members], [0, [1, 0]]);
  book.countUnits(2000, 1, 2);
  assert.deepEqual([book.count.done, queue.waiting.map(({ member }) => member)], [1, [1, 2]]);
  book.undo(3000);
  assert.deepEqual([book.count.done, book.count.members], [0, [1, 0]]);
  book.countUnits(4000, 1);
  assert.deepEqual(book.count.members, [2, 1]);
});

test("a touch in a piece counts there alone, in a rest nowhere, and undo takes it from its piece", () => {
  const intervals = { piece_count: 2, work_ms: 60_000, rest_ms: 30_000, counts: "sum", timed: false };
  book.takeFrame(ruled({ format: "intervals", intervals, total_done: undefined, laps: undefined }, { pieces: [3, 0], done: 3 }), 0);
  book.countUnits(70_000);
  book.countUnits(95_000);
  assert.deepEqual([book.count.pieces, book.count.done], [[3, 1], 1]);
  book.undo(96_000);
  assert.deepEqual(book.count.pieces, [3, 0]);
});

test("what another judge counts of the other member is no correction, and the own taps can still be undone", () => {
  const synchro = { team: { form: "synchro", size: 2 } };
  book.takeFrame(ruled(synchro, { member: 1, members: [0, 0] }), 0);
  book.countUnits(1000, 1, 1);
  const tally = { heat: "h1", lane: 4, done: 1, scored_reps: 1, no_reps: 0, status: "working", member: 1, members: [1, 1] };
  book.acknowledge({ watermark: 1, refused: [], tally }, 0);
  assert.deepEqual([corrections, book.undoable.id, book.count.done], [[], "f1", 1]);
  book.takeFrame(ruled(synchro, { done: 0, member: 1, members: [0, 1] }), 2000);
  assert.equal(corrections.length, 1);
});

test("an answer that a later one overtook does not set the number back", () => {
  book.countUnits(1000);
  book.countUnits(2000);
  acknowledge(2, 2);
  acknowledge(1, 1);
  assert.deepEqual([book.table.done, corrections.length, book.undoable.fact], [2, 0, "rep_counted"]);
});

test("a link that breaks between an answer and its frame does not set the number back, however long it is away", () => {
  book.countUnits(1000);
  acknowledge(1, 1, {}, 5000);
  for (const at of [5500, 5700, 60_000]) book.settle(at);
  assert.deepEqual([book.table.done, corrections.length, book.undoable?.fact], [1, 0, "rep_counted"]);
});
