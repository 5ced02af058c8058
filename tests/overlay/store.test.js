import assert from "node:assert/strict";
import { test } from "node:test";
import { createStore } from "../../overlay/shared/store.js";

test("listeners hear every new value until they leave", () => {
  const store = createStore(1);
  const heard = [];
  const leave = store.subscribe((value) => heard.push(value));
  store.set(2);
  leave();
  store.set(3);
  assert.deepEqual(heard, [2]);
  assert.equal(store.get(), 3);
});

test("setting the very same value tells nobody", () => {
  const value = { done: 1 };
  const store = createStore(value);
  store.subscribe(() => assert.fail("was told"));
  store.set(value);
});

test("a listener that leaves while it is told does not keep the next one from hearing", () => {
  const store = createStore(0);
  const heard = [];
  const leave = store.subscribe(() => leave());
  store.subscribe((value) => heard.push(value));
  store.set(1);
  assert.deepEqual(heard, [1]);
});
