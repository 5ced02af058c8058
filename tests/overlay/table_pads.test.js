/** What the table says of pads: nothing while all is well, and in few words what needs a look. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { padFlags, padLines } from "../../overlay/table/pads.js";

const NOW = 1_800_000_000_000;
const GOOD = { sender: "lane-4-ab", role: "lane", up: true, since_unix_ms: NOW - 65_000, last_unix_ms: NOW - 3000, waiting: 0, held: 0, battery: 80, error_ms: 10, ahead_ms: 0 };

test("a lane whose pad is well has nothing to say", () => {
  assert.equal(padFlags({ devices: [GOOD] }, 12), "");
  assert.equal(padFlags(undefined, 12), "");
});

test("a pad that is away, never came, or has a double is named", () => {
  assert.equal(padFlags({ devices: [{ ...GOOD, up: false }] }, 12), "waiting for the pad");
  assert.equal(padFlags({ devices: [] }, 12), "no pad yet");
  assert.equal(padFlags({ devices: [], counted_by: "machine" }, 12), "", "somebody else counts");
  assert.equal(padFlags({ devices: [{ ...GOOD, up: false }], counted_by: "table" }, 12), "");
  assert.equal(padFlags({ devices: [GOOD, GOOD], two: true }, 12), "2 pads on this lane");
  assert.equal(padFlags({ devices: [GOOD, { ...GOOD, up: false }] }, 12), "", "a phone that was replaced is not missed");
});

test("what a pad says of itself is shown when it is bad", () => {
  const bad = { ...GOOD, waiting: 2, held: 3, battery: 9, error_ms: 400, alarms: ["double", "too_fast"] };
  assert.equal(padFlags({ devices: [bad] }, 12), "5 waiting, battery 9 %, clock ±400 ms, double touches, too fast to be true");
});

test("counters that disagree are both said", () => {
  const backup = { ...GOOD, role: "backup", sender: "backup-4-cd" };
  assert.equal(padFlags({ devices: [GOOD, backup], backup: 14, disagree: true }, 12), "counters differ: 12, backup 14");
  assert.equal(padFlags({ devices: [GOOD, backup], backup: 12, disagree: false }, 12), "");
});

test("every device has its line", () => {
  const lines = padLines({ devices: [GOOD, { ...GOOD, sender: "backup-4-cd", role: "backup", up: false, ahead_ms: -90_000, last_unix_ms: undefined }] }, NOW);
  assert.deepEqual(lines, [
    "Pad lane-4-ab: connected for 1:05 · last touch 0:03 ago · battery 80 % · times within 10 ms · its clock right",
    "Backup backup-4-cd: gone for 1:05 · no touch yet · battery 80 % · times within 10 ms · its clock 90.0 s behind",
  ]);
  assert.deepEqual(padLines({ devices: [], counted_by: "table" }, NOW), ["Counted by keys at the table"]);
  assert.deepEqual(padLines({ devices: [], counted_by: "machine" }, NOW), ["Counted by a machine"]);
  assert.deepEqual(padLines({ devices: [] }, NOW), ["No pad of this lane has joined"]);
});
