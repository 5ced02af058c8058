import assert from "node:assert/strict";
import { test } from "node:test";

import { choices, inOrder, stateText, wishes, titleText } from "../../overlay/home/words.js";

const more = { label: "Saturday", days: 2 };

test("slips for everybody are those of the table, the head judge, the desk and each lane", () => {
  const asked = wishes("all", { lanes: [1, 2] }, more);
  assert.deepEqual(asked.map(({ role, lane }) => `${role} ${lane ?? ""}`.trim()), ["table", "head", "desk", "lane 1", "lane 2"]);
  assert.ok(asked.every(({ label, days }) => label === "Saturday" && days === 2));
});

test("one lane, every lane or one role can be asked for, and each choice asks for something", () => {
  assert.deepEqual(wishes("lane:2", { lanes: [1, 2] }, more), [{ role: "lane", lane: 2, ...more }]);
  assert.deepEqual(wishes("machine", { lanes: [1] }, more), [{ role: "machine", ...more }]);
  assert.equal(wishes("lanes", { lanes: [1, 2, 3] }, more).length, 3);
  for (const [value] of choices({ lanes: [1, 2] })) assert.ok(wishes(value, { lanes: [1, 2] }, more).length);
});

test("a link says until when it is good and who is connected, and that it has ended", () => {
  const link = { id: "a", title: "", label: "", expires_ms: 1_800_000_000_000, ended: false, devices: [] };
  assert.match(stateText(link, 0), /^until .* nobody connected$/);
  const device = { sender: "lane-1-a", since_ms: 1_000 };
  assert.match(stateText({ ...link, devices: [device] }, 66_000), /connected for 1:05$/);
  assert.equal(stateText({ ...link, ended: true }, 0), "ended");
});

test("links that open something come first", () => {
  const made = (/** @type {string} */ id, /** @type {boolean} */ ended) => ({ id, title: "", label: "", expires_ms: 0, ended, devices: [] });
  assert.deepEqual(inOrder([made("a", true), made("b", false), made("c", false)]).map(({ id }) => id), ["b", "c", "a"]);
});

test("what a link opens is said by its role, its lane and the name of its floor", () => {
  assert.equal(titleText({ title: "x", role: "lane", lane: 4, floor: "East" }), "Lane pad 4, East");
  assert.equal(titleText({ title: "x", role: "head", lane: null }), "Head judge");
  assert.equal(titleText({ title: "x", role: "machine", lane: 2, floor: "" }), "Machine source, lane 2");
  assert.equal(titleText({ title: "newer role", role: "newer", lane: null }), "newer role");
});
