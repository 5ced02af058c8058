/**
 * Time left against work left, for the run-in to the cap. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 */

import { along, roundsOnLine } from "../shared/workline.js";

/** The width of the picture in seconds: the smallest of these that holds the time left. */
const WIDTHS_S = [30, 60, 120, 180, 300, 600, 900, 1800, 3600];

/**
 * The time the rest of the work takes a lane if it goes on as it has gone so far; undefined for a lane that has done nothing,
 * is done, or has work without an end. It is arithmetic and no forecast: nothing is known of how anybody will tire.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {number | undefined} milliseconds
 */
export function neededMs({ event, lanes }, lane) {
  const at = along(event, lane, roundsOnLine(event, Object.values(lanes)));
  if (lane.status !== "working" || lane.reps_to_go === undefined || at <= 0) return undefined;
  return (lane.reached_ms * (1 - at)) / at;
}

/**
 * The width of the picture, in milliseconds, for the time that is left.
 *
 * @param {number} leftMs
 * @returns {number} milliseconds
 */
export function widthMs(leftMs) {
  return (WIDTHS_S.find((width) => width * 1000 >= leftMs) ?? leftMs / 1000) * 1000;
}
