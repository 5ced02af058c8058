/**
 * What an athlete has and needs, in a few words for a phone. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {[label: string, value: string]} Line
 */

import { amountText, placeOrdinal } from "../shared/format.js";
import { formatOf } from "../formats/registry.js";
import { figureText, isDone, isOut, placesCount, roundText, scoreBehindText } from "../shared/standing.js";

/**
 * Who is meant: the athlete that is followed, on a lane or in the ranking; else whoever leads.
 *
 * @param {HeatFrame} frame
 * @param {string | undefined} entry
 * @returns {LaneData | undefined} undefined: on no lane of this heat
 */
export function laneOf(frame, entry) {
  const lanes = Object.values(frame.lanes);
  if (entry !== undefined) return lanes.find((lane) => lane.entry === entry);
  return placesCount(frame) ? frame.lanes[frame.order[0]] : undefined;
}

/**
 * Always four lines, so that nothing below them moves.
 *
 * @param {HeatFrame} frame
 * @param {LaneData | undefined} lane
 * @param {import("../shared/types.js").RankingRow | undefined} row of somebody who is on no lane of this heat
 * @returns {Line[]}
 */
export function cardLines(frame, lane, row) {
  const found = lane ? ofLane(frame, lane) : row ? ofRow(row) : [];
  return [0, 1, 2, 3].map((at) => found[at] ?? ["", ""]);
}

/** @param {import("../shared/types.js").RankingRow} row */
function ofRow(row) {
  /** @type {Line[]} */
  const lines = [["In the event", `${placeOrdinal(row)} with ${row.result}`]];
  return row.points === undefined ? lines : [...lines, /** @type {Line} */ (["Worth", `${row.points} points`])];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Line[]}
 */
function ofLane(frame, lane) {
  const best = lane.in_event?.to_beat;
  /** @type {Line[]} */
  const lines = [here(frame, lane), ahead(frame, lane), inEvent(lane)];
  return best === undefined ? lines : [...lines, ["To beat", `${best} in another heat`]];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Line}
 */
function here(frame, lane) {
  if (isOut(lane) || !placesCount(frame)) return ["Now", isOut(lane) ? lane.result : "Waiting for the first rep"];
  return ["Now", `${placeOrdinal(lane)} in the heat · ${isDone(lane) ? figureText(lane) : roundText(frame.event, lane)}`];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Line}
 */
function ahead(frame, lane) {
  if (isDone(lane)) return ["Needs", "nothing: the work is done"];
  const left = lane.reps_to_go === undefined ? "" : amountText(lane.reps_to_go, formatOf(frame.event).unit);
  const behind = scoreBehindText(frame, lane, lane.gap_next);
  const gap = behind && placesCount(frame) ? `${behind} to the next place` : "";
  return ["Needs", [left && `${left} to go`, gap].filter(Boolean).join(" · ") || "to keep the lead"];
}

/**
 * @param {LaneData} lane
 * @returns {Line}
 */
function inEvent({ in_event: place, points }) {
  if (!place) return ["In the event", "not placed yet"];
  const worth = points === undefined ? "" : ` · ${points} points`;
  return ["In the event", `${placeOrdinal(place)} of ${place.of}${worth}`];
}
