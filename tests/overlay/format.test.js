import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../overlay/shared/format.js";
import { ordinal } from "../../overlay/shared/say.js";

test("a clock shows m:ss, h:mm:ss from one hour on, and cuts what it does not show", () => {
  assert.deepEqual(
    [0, 999, 59_999, 60_000, 702_318, 3_600_000, 3_725_999].map(format.clockText),
    ["0:00", "0:00", "0:59", "1:00", "11:42", "1:00:00", "1:02:05"],
  );
});

test("tenths are cut, so that the clock never runs ahead", () => {
  assert.equal(format.clockTextTenths(702_399), "11:42.3");
});

test("ordinals end as in English, with th for the teens", () => {
  assert.deepEqual(
    [1, 2, 3, 4, 11, 12, 13, 21, 22, 23, 101, 111].map(ordinal),
    ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd", "23rd", "101st", "111th"],
  );
});

test("a lane that trails shows by how many reps, a lane that leads shows nothing", () => {
  assert.equal(format.repsBehindText(12), "−12");
  assert.equal(format.repsBehindText(0), "");
});

test("time behind shows seconds with tenths, and minutes from one minute on", () => {
  assert.deepEqual(
    [0, 3_420, 59_999, 75_000, -1_250].map(format.timeBehindText),
    ["+0.0 s", "+3.4 s", "+59.9 s", "+1:15.0", "−1.2 s"],
  );
});

test("a time is cut, as on the clock and in a cue; what is too short for a tenth has its thousandths", () => {
  assert.deepEqual([687, 99, 31, 9_999].map(format.secondsText), ["0.6 s", "0.099 s", "0.031 s", "9.9 s"]);
});

test("one of a unit is singular", () => {
  assert.deepEqual(
    [format.amountText(1, "reps"), format.amountText(10, "reps"), format.amountText(1, "metres")],
    ["1 rep", "10 reps", "1 metre"],
  );
});

test("a time is read back as it is written, with any number of decimals up to three", () => {
  assert.deepEqual(
    ["0:00", "11:42", "11:42.3", "11:42,318", "1:02:05", " 9:59.01 "].map(format.parseClock),
    [0, 702_000, 702_300, 702_318, 3_725_000, 599_010],
  );
});

test("what is no time is not guessed at", () => {
  assert.deepEqual(
    ["", "11", "11:60", "11:4", "1:75:00", "11:42.3189", "-1:00", "soon"].map(format.parseClock),
    Array(8).fill(undefined),
  );
});
