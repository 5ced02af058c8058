/**
 * Distances between two lanes in words and numbers. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 */

import { amountText, timeBehindText } from "../shared/format.js";
import { isLift, isOut, scoreBehindText } from "../shared/standing.js";
import { lastGap } from "./marks.js";

/**
 * How far apart two lanes of a division are: in time when both have finished, otherwise in what is scored, with the
 * time between them at the last mark both have passed. Empty when that says nothing.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} ahead
 * @param {LaneData} behind
 * @returns {{score: string, time: string}}
 */
export function apart(frame, ahead, behind) {
  if (isOut(ahead) || isOut(behind) || frame.leader.lane === undefined) return { score: "", time: "" };
  if (ahead.finish_ms !== undefined && behind.finish_ms !== undefined) {
    return { score: secondsText(behind.finish_ms - ahead.finish_ms), time: "" };
  }
  const gap = isLift(frame.event) ? undefined : lastGap(frame.event, ahead, behind);
  return { score: scoreText(frame, ahead, behind), time: gap && gap.ms > 0 ? `${secondsText(gap.ms)} at ${gap.scored}` : "" };
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} ahead
 * @param {LaneData} behind
 */
function scoreText(frame, ahead, behind) {
  const gap = behind.gap_leader - ahead.gap_leader;
  if (gap <= 0) return "level";
  return isLift(frame.event) ? scoreBehindText(frame, behind, gap).slice(1) : amountText(gap, "reps");
}

/**
 * A time between two, without a sign: 4300 → 4.3 s.
 *
 * @param {number} ms
 * @returns {string}
 */
function secondsText(ms) {
  return timeBehindText(Math.abs(ms)).slice(1);
}
