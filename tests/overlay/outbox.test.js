import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { Outbox } from "../../overlay/shared/outbox.js";
import { memoryStorage } from "../../overlay/shared/queue.js";

let storage;
let outbox;
let senders;

const open = () => Outbox.open({ storage, name: "table", makeSender: () => `table-${(senders += 1)}`, nowMs: 1000 });
const add = (id) => {
  outbox.queue.add({ fact: "withdrawn", id, heat: "h1", at_ms: 0, lane: 4 });
  outbox.history.add({ id, fact: "withdrawn", heat: "h1", at_ms: 0 });
};
const answer = (watermark, refused = []) => ({ type: "acknowledged", sender: "table-1", watermark, refused });

beforeEach(() => {
  storage = memoryStorage();
  senders = 0;
  outbox = open();
});

test("waiting is counted from the first fact that waits, and from the last answer", () => {
  outbox.begin(5000);
  add("a");
  outbox.begin(6000);
  add("b");
  assert.deepEqual([outbox.count, outbox.waitedMs(6500)], [2, 1500]);
  outbox.hear(answer(1), 7000);
  assert.deepEqual([outbox.count, outbox.waitedMs(7200)], [1, 200]);
});

test("that the server's disk is full moves nothing: what waits is kept, and is still to be answered", () => {
  add("a");
  outbox.queue.drain(() => {});
  assert.equal(outbox.hear({ type: "storage", state: "held", message: "full" }, 2000), undefined);
  assert.equal(outbox.count, 1);
});

test("a welcome says to send what the server does not have", () => {
  add("a");
  add("b");
  outbox.queue.drain(() => {});
  assert.deepEqual(outbox.hear({ type: "welcome", role: "table", mode: "live", speed: 1, watermark: 1 }, 2000), { send: true, restart: false, refused: [] });
  const sent = [];
  outbox.queue.drain((facts) => sent.push(...facts));
  assert.deepEqual(sent.map(({ id }) => id), ["b"]);
});

test("what was refused is told and can no longer be taken back; the rest stays", () => {
  add("a");
  add("b");
  const heard = outbox.hear(answer(2, [{ sequence: 1, code: "no", message: "nobody is on lane 4" }]), 2000);
  assert.deepEqual([heard.refused, heard.send, outbox.count], [["nobody is on lane 4"], false, 0]);
  assert.deepEqual(outbox.history.of("h1").map(({ id }) => id), ["b"]);
});

test("a gap is sent again, or begins a new sender where the server lost what it had", () => {
  add("a");
  add("b");
  assert.deepEqual(outbox.hear({ type: "gap", expected: 1, found: 2 }, 2000), { send: true, restart: false, refused: [] });
  outbox.hear(answer(1), 2000);
  assert.equal(outbox.hear({ type: "gap", expected: 1, found: 2 }, 2000).restart, false, "it was overtaken by the answer");
  outbox.hear({ type: "welcome", role: "table", mode: "live", speed: 1, watermark: 0 }, 2000);
  assert.deepEqual(outbox.hear({ type: "gap", expected: 1, found: 2 }, 2000), { send: false, restart: true, refused: [] });
  assert.deepEqual([outbox.queue.sender, outbox.queue.waiting.map(({ id, sequence }) => [id, sequence])], ["table-2", [["b", 1]]]);
});

test("an error is about something else", () => {
  assert.equal(outbox.hear({ type: "error", code: "bad_message", message: "torn" }, 2000), undefined);
});

test("a page that is loaded again goes on with what waits and what it did", () => {
  add("a");
  const again = open();
  assert.deepEqual([again.count, again.queue.sender, again.history.of("h1").length], [1, "table-1", 1]);
});

test("a copy writes to its own storage, and neither changes the other", () => {
  add("a");
  const other = memoryStorage();
  const copy = outbox.copy({ storage: other, later: other, makeSender: () => "table-9" });
  copy.hear(answer(1), 9000);
  copy.history.markVoided("a");
  add("b");
  assert.deepEqual([copy.count, outbox.count], [0, 2]);
  assert.deepEqual([copy.history.of("h1").length, outbox.history.of("h1").length], [0, 2]);
  assert.deepEqual([copy.waitedMs(9100), outbox.waitedMs(9100)], [100, 8100]);
  assert.equal(JSON.parse(other.getItem("tallywire.table") ?? "{}").watermark, 1);
  assert.equal(JSON.parse(storage.getItem("tallywire.table") ?? "{}").watermark, 0);
});

test("a queue that could not be kept says so, and its copies too", () => {
  outbox.queue.notKept();
  assert.equal(outbox.copy({ storage, later: storage, makeSender: () => "" }).queue.durable, false);
});
