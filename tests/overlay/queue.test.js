import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { memoryStorage, Queue, randomHex } from "../../overlay/shared/queue.js";

let storage;
let made;

beforeEach(() => {
  storage = memoryStorage();
  made = 0;
});

const open = (port = storage) => new Queue({ storage: port, name: "lane-4", makeSender: () => `lane-4-${(made += 1)}` });
const rep = (id) => ({ fact: "rep_counted", id, heat: "h", lane: 4, at_ms: 0, n: 1 });
const numbers = (facts) => facts.map((fact) => fact.sequence);
const ids = (facts) => facts.map((fact) => fact.id);
const add = (queue, ...names) => names.map((name) => queue.add(rep(name)));

test("facts are numbered 1, 2, 3 and carry the sender", () => {
  const queue = open();
  assert.deepEqual(numbers(add(queue, "a", "b", "c")), [1, 2, 3]);
  assert.equal(queue.waiting[0].sender, queue.sender);
});

test("facts wait until the watermark reaches them", () => {
  const queue = open();
  add(queue, "a", "b", "c");
  queue.acknowledge(2);
  assert.deepEqual(ids(queue.waiting), ["c"]);
  assert.equal(queue.watermark, 2);
});

test("a watermark that goes back changes nothing", () => {
  const queue = open();
  add(queue, "a", "b");
  queue.acknowledge(2);
  queue.acknowledge(1);
  assert.equal(queue.watermark, 2);
  assert.deepEqual(numbers(add(queue, "c")), [3]);
});

test("after a reload the sender, the waiting facts and the next number are the same", () => {
  const before = open();
  add(before, "a", "b", "c");
  before.acknowledge(1);
  const after = open();
  assert.equal(after.sender, before.sender);
  assert.deepEqual(ids(after.waiting), ["b", "c"]);
  assert.deepEqual(numbers(add(after, "d")), [4]);
});

test("every fact is given out once a connection, in order and in batches", () => {
  const queue = open();
  for (let number = 1; number <= 100; number += 1) add(queue, `f${number}`);
  const batches = [queue.take(), queue.take(), queue.take()];
  assert.deepEqual(batches.map((batch) => batch.length), [64, 36, 0]);
  add(queue, "late");
  assert.deepEqual(ids(queue.take()), ["late"]);
});

test("a new connection sends again what the server does not have", () => {
  const queue = open();
  add(queue, "a", "b", "c");
  queue.take();
  queue.welcome(1);
  assert.deepEqual(ids(queue.take()), ["b", "c"]);
});

test("a gap rewinds to the number the server expects", () => {
  const queue = open();
  add(queue, "a", "b", "c");
  queue.take();
  assert.equal(queue.gap(2), false);
  assert.deepEqual(ids(queue.take()), ["b", "c"]);
});

test("when the server lost what it had acknowledged, what waits goes on under a new sender from 1", () => {
  const queue = open();
  add(queue, "a", "b", "c");
  queue.acknowledge(2);
  const old = queue.sender;
  queue.welcome(0);
  assert.equal(queue.gap(1), true);
  assert.notEqual(queue.sender, old);
  assert.deepEqual([ids(queue.waiting), numbers(queue.waiting)], [["c"], [1]]);
  const reloaded = open();
  assert.deepEqual([reloaded.sender, ids(reloaded.waiting)], [queue.sender, ["c"]]);
});

test("a new fact never hides behind a number that the server knows and this device forgot", () => {
  add(open(), "a", "b");
  const queue = open(); // the crash undid what came after b, but the server has up to 5
  add(queue, "new");
  queue.welcome(5);
  assert.deepEqual([ids(queue.take()), numbers(queue.waiting)], [["new"], [6]]);
  assert.deepEqual(numbers(open().waiting), [6]);
});

test("facts that did leave are not renumbered: the server has them", () => {
  const queue = open();
  add(queue, "a", "b");
  queue.take();
  queue.welcome(2);
  assert.deepEqual(queue.waiting, []);
});

test("a torn write ends the queue there and does not stop the page", () => {
  const queue = open();
  add(queue, "a", "b");
  storage.setItem(`tallywire.${queue.sender}.2`, '{"fact":"rep_c');
  assert.deepEqual(ids(open().waiting), ["a"]);
});

test("a crash between the fact and anything else keeps the fact", () => {
  const queue = open();
  const failing = { ...storage, setItem: (key, value) => key.endsWith(".1") && storage.setItem(key, value) };
  add(open(failing), "a");
  assert.deepEqual(ids(open().waiting), ["a"]);
  assert.equal(open().sender, queue.sender);
});

test("a full storage does not stop counting, and the queue says that it is not safe", () => {
  const full = { ...memoryStorage(), setItem: () => { throw new Error("full"); } };
  const queue = open(full);
  add(queue, "a");
  assert.equal(queue.durable, false);
  assert.deepEqual(ids(queue.take()), ["a"]);
});

test("the storage does not grow with what is acknowledged", () => {
  const kept = new Map();
  const counted = { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, value), removeItem: (key) => kept.delete(key) };
  const queue = open(counted);
  for (let number = 1; number <= 50; number += 1) add(queue, `f${number}`);
  queue.acknowledge(50);
  assert.equal(kept.size, 1);
});

test("random names have two hex digits a byte and differ", () => {
  assert.match(randomHex(3), /^[0-9a-f]{6}$/);
  assert.notEqual(randomHex(16), randomHex(16));
});
