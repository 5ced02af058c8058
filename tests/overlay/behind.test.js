import assert from "node:assert/strict";
import { test } from "node:test";

import { linkText, lostText } from "../../overlay/commentary/behind.js";

test("an old call is told by its age in whole seconds, a fresh one is simply there", () => {
  assert.deepEqual([undefined, 3400, 12_000].map(linkText), ["Connected", "The call is 3 s old", "The call is 12 s old"]);
});

test("a link that is lost says from when the numbers are, as soon as there are any", () => {
  assert.equal(lostText(undefined), "Reconnecting");
  assert.equal(lostText(new Date(2027, 5, 5, 14, 5, 9)), "Reconnecting: last numbers 14:05:09");
});
