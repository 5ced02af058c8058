/**
 * A heat as the three pictures read it: who stands where, and the words and numbers beside a name. Pure.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 * @typedef {import("./types.js").LaneData} LaneData
 *
 * @typedef {object} Group those who compete against each other, best first
 * @property {string} division
 * @property {string} name
 * @property {LaneData[]} lanes
 */

import { clockTextDecimals, repsBehindText, timeBehindText } from "./format.js";

/** Who has no result: no place is shown, whatever order the frame keeps them in. */
const OUT = new Set(["withdrawn", "did_not_start", "disqualified"]);

/**
 * Whether the lane is out of the heat: withdrew, did not start, or was disqualified.
 *
 * @param {{status: string}} lane
 * @returns {boolean}
 */
export function isOut(lane) {
  return OUT.has(lane.status);
}

/**
 * Whether the lane has what it got: it will not count any more.
 *
 * @param {{status: string}} lane
 * @returns {boolean}
 */
export function isDone(lane) {
  return lane.status !== "ready" && lane.status !== "working";
}

/**
 * Give the lanes by division, in the order of the competition, each from the best to the last.
 *
 * @param {HeatFrame} frame
 * @param {readonly number[]} [order] lanes from the best to the last; the frame's own unless a page holds it back
 * @returns {Group[]}
 */
export function groups(frame, order = frame.order) {
  const lanes = order.map((number) => frame.lanes[number]).filter((lane) => lane !== undefined);
  const found = Object.entries(frame.divisions).map(([division, { name }]) => ({
    division,
    name,
    lanes: lanes.filter((lane) => lane.division === division),
  }));
  return found.filter((group) => group.lanes.length > 0);
}

/**
 * Give the lanes as they stand on the floor.
 *
 * @param {HeatFrame} frame
 * @returns {LaneData[]}
 */
export function floorOrder(frame) {
  return Object.values(frame.lanes).sort((a, b) => a.lane - b.lane);
}

/**
 * Whether places mean anything yet: before the first rep all share the first place, which is no news.
 *
 * @param {HeatFrame} frame
 * @returns {boolean}
 */
export function placesCount(frame) {
  return frame.leader.lane !== undefined;
}

/**
 * The place as shown: 3, or =3 when it is shared; nothing for who withdrew or while no work is done.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "shared" | "status">} lane
 * @returns {string}
 */
export function placeText(frame, lane) {
  if (!placesCount(frame) || isOut(lane)) return "";
  return lane.shared ? `=${lane.place}` : String(lane.place);
}

/**
 * Whether the lane leads its division on the count, alone or level with others.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "status">} lane
 * @returns {boolean}
 */
export function leads(frame, lane) {
  return placesCount(frame) && lane.place === 1 && !isOut(lane);
}

/**
 * How a lane is drawn: its status, `leading` while it works and leads, `out` when it is out of the heat.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "status">} lane
 * @returns {string}
 */
export function lookOf(frame, lane) {
  if (isOut(lane)) return "out";
  return lane.status === "working" && leads(frame, lane) ? "leading" : lane.status;
}

/**
 * The one figure of a lane: its count while it counts, then what it got.
 *
 * @param {LaneData} lane
 * @param {number} [decimals] of a finishing time
 * @returns {string}
 */
export function figureText(lane, decimals = 3) {
  if (lane.finish_ms !== undefined) return clockTextDecimals(lane.finish_ms, decimals);
  if (lane.status === "capped" || isOut(lane)) return lane.result;
  return String(lane.scored_reps);
}

/**
 * What the lane trails the leader by: reps while it works (fewer: −12), time once it has finished (later: +4.3 s).
 * A capped lane shows its count here, because its figure says how much was left.
 *
 * @param {LaneData} lane
 * @param {LaneData | undefined} leader of the same division
 * @returns {string}
 */
export function gapText(lane, leader) {
  if (isOut(lane)) return "";
  if (lane.status === "capped") return `${lane.scored_reps} reps`;
  if (lane.finish_ms === undefined) return repsBehindText(lane.gap_leader);
  const behind = lane.finish_ms - (leader?.finish_ms ?? lane.finish_ms);
  return behind > 0 ? timeBehindText(behind) : "";
}

/**
 * Name the round in progress: round 3 of 5, or round 3 when rounds repeat until the time is up.
 *
 * @param {HeatFrame["event"]} event
 * @param {number} round
 * @returns {string}
 */
export function roundText(event, round) {
  return event.laps === undefined ? `Round ${round}` : `Round ${round} of ${event.laps * event.rounds_a_lap}`;
}
