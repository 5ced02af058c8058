import assert from "node:assert/strict";
import { test } from "node:test";

import { linkText } from "../../overlay/commentary/behind.js";

test("an old call is told by its age in whole seconds, a fresh one is simply there", () => {
  assert.deepEqual([undefined, 3400, 12_000].map(linkText), ["Connected", "The call is 3 s old", "The call is 12 s old"]);
});
