/**
 * Distances between two lanes in words and numbers. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 */

import { formatOf } from "../formats/registry.js";
import { secondsText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { isOut } from "../shared/standing.js";
import { lastGap } from "./marks.js";

/**
 * How far apart two lanes of a division are: in time when both have finished, otherwise in what is scored, with the
 * time between them at the last mark both have passed. Empty when there is nothing to say.
 * @param {HeatFrame} frame
 * @param {LaneData} ahead
 * @param {LaneData} behind
 * @returns {{score: string, time: string}}
 */
export function apart(frame, ahead, behind) {
  if (isOut(ahead) || isOut(behind) || frame.leader.lane === undefined) return { score: "", time: "" };
  if (ahead.finish_ms !== undefined && behind.finish_ms !== undefined) {
    return { score: secondsText(Math.abs(behind.finish_ms - ahead.finish_ms)), time: "" };
  }
  const gap = formatOf(frame.event).marks ? lastGap(frame.event, ahead, behind) : undefined;
  return { score: scoreText(frame, ahead, behind), time: gap && gap.ms > 0 ? say("air.time_at", { time: secondsText(gap.ms), reps: gap.scored }) : "" };
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} ahead
 * @param {LaneData} behind
 */
function scoreText(frame, ahead, behind) {
  const gap = behind.gap_leader - ahead.gap_leader;
  if (gap <= 0) return say("air.level");
  return formatOf(frame.event).air.apart(behind, gap);
}
