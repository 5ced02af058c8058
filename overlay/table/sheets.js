/**
 * The scoresheets of a heat beside what was counted: what is ticked, and what is still in the way of a signature. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Sheet
 * @property {number} lane
 * @property {string} name
 * @property {string} text what the sheet has to agree with
 * @property {boolean} kept it agrees, and the record says so; or there is none, because the lane did not start
 * @property {boolean} ticked it agrees, by this page
 */

import { say } from "../shared/say.js";
import { laneRow } from "./rows.js";

/**
 * One sheet a lane, in the order of the lanes. A tick holds for the text that it was given to: when the result changes,
 * the sheet has to be compared again.
 *
 * @param {HeatFrame} frame
 * @param {ReadonlyMap<number, string>} ticks the text that was ticked, by lane
 * @returns {Sheet[]}
 */
export function sheetsOf(frame, ticks) {
  const unchecked = new Set(frame.result?.unchecked);
  const lanes = Object.values(frame.lanes).sort((one, other) => one.lane - other.lane);
  return lanes.map((lane) => {
    const { name, count, state, flags } = laneRow(frame, lane, undefined);
    const text = [say("table.counted", { count }), state, flags].filter(Boolean).join(" · ");
    return { lane: lane.lane, name, text, kept: !unchecked.has(lane.lane), ticked: ticks.get(lane.lane) === text };
  });
}

/**
 * Say what is in the way of the signature.
 *
 * @param {Sheet[]} sheets
 * @param {string} by who signs
 * @returns {string} empty: nothing
 */
export function inTheWay(sheets, by) {
  const open = sheets.filter(({ kept, ticked }) => !kept && !ticked).map(({ lane }) => lane);
  if (open.length) return say("table.tick_first", { n: open.length, lanes: open.join(", ") });
  return by.trim() ? "" : say("table.who_signs");
}
