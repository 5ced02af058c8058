/**
 * What an athlete has and needs, in a few words for a phone. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {[label: string, value: string]} Line
 */

import { formatOf, resultText } from "../formats/registry.js";
import { amountText, placeOrdinal } from "../shared/format.js";
import { say } from "../shared/say.js";
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
  const lines = [[say("public.in_event"), say("public.place_with", { place: placeOrdinal(row), result: resultText(row.result) })]];
  return row.points === undefined ? lines : [...lines, /** @type {Line} */ ([say("public.worth"), amountText(row.points, "points")])];
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
  return best === undefined ? lines : [...lines, [say("public.to_beat"), say("public.in_another", { result: resultText(best) })]];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Line}
 */
function here(frame, lane) {
  if (isOut(lane) || !placesCount(frame)) return [say("public.now"), isOut(lane) ? resultText(lane.result) : say("public.first_rep")];
  return [say("public.now"), say("public.place_now", { place: placeOrdinal(lane), figure: isDone(lane) ? figureText(lane) : roundText(frame.event, lane) })];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Line}
 */
function ahead(frame, lane) {
  if (isDone(lane)) return [say("public.needs"), say("public.needs_nothing")];
  const left = lane.reps_to_go === undefined ? "" : amountText(lane.reps_to_go, formatOf(frame.event).unit);
  const behind = scoreBehindText(frame, lane, lane.gap_next);
  const gap = behind && placesCount(frame) ? say("public.to_next", { gap: behind }) : "";
  return [say("public.needs"), [left && say("public.to_go", { work: left }), gap].filter(Boolean).join(" · ") || say("public.keep_lead")];
}

/**
 * @param {LaneData} lane
 * @returns {Line}
 */
function inEvent({ in_event: place, points }) {
  if (!place) return [say("public.in_event"), say("public.unplaced")];
  const worth = points === undefined ? "" : ` · ${amountText(points, "points")}`;
  return [say("public.in_event"), say("public.place_of", { place: placeOrdinal(place), of: place.of }) + worth];
}
