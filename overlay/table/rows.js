/**
 * What the table shows of every lane, as plain data. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {object} Row
 * @property {string} lane
 * @property {string} name
 * @property {string} division where the heat has several
 * @property {string} count the cumulative number
 * @property {string} station
 * @property {string} into
 * @property {string} next
 * @property {string} place
 * @property {string} since time since the last rep
 * @property {boolean} stalled
 * @property {string} noReps
 * @property {string} remarks
 * @property {string} state
 * @property {string} flags what the people at the table put on it
 * @property {LaneData["status"]} status
 */

import { formatOf, resultText } from "../formats/registry.js";
import { clockText, placeFigure } from "../shared/format.js";
import { position } from "../shared/plan.js";
import { figures, say } from "../shared/say.js";
import { penaltyText } from "./log.js";
import { padFlags } from "./pads.js";

/** No lane is called stalled before this: walking to the next station takes up to ten seconds (common practice, no
 * source). */
const STALL_LEAST_MS = 15_000;
/** Where the server does not say when a lane has stalled, it has after this many times the expected time of one rep. */
const STALL_REPS = 6;
/** A block gives no sign until it is done, and a single heavy rep hardly any: there, a stall is this many times the
 * station's time. */
const STALL_STATIONS = 1.5;


/** @type {Record<LaneData["status"], string>} */
const STATES = {
  ready: say("table.lane_ready"),
  working: say("table.lane_working"),
  finished: say("table.lane_finished"),
  capped: say("table.lane_capped"),
  timed: say("table.lane_timed"),
  withdrawn: say("table.lane_withdrawn"),
  did_not_start: say("table.lane_did_not_start"),
  disqualified: say("table.lane_disqualified"),
};

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {number | undefined} clockMs
 * @returns {Row}
 */
export function laneRow(frame, lane, clockMs) {
  const format = formatOf(frame.event);
  const at = position(frame.event, lane.done);
  const sinceMs = sinceLastRep(frame.event, lane, clockMs);
  return {
    lane: String(lane.lane),
    name: lane.name,
    division: Object.keys(frame.divisions).length > 1 ? frame.divisions[lane.division].name : "",
    count: String(at.scored),
    station: at.leg.movement,
    into: [format.table.into(frame.event, at), format.table.own(lane) ?? teamText(frame.event, lane)].filter(Boolean).join(" · "),
    next: String(at.next_mark),
    place: placeFigure(lane),
    since: sinceMs === undefined ? "" : clockText(sinceMs),
    stalled: sinceMs !== undefined && sinceMs >= silenceMs(at.leg, frame.pads?.[lane.lane]),
    noReps: lane.no_reps ? String(lane.no_reps) : "",
    remarks: lane.remarks ? String(lane.remarks) : "",
    state: hasResult(lane) ? resultText(lane.result) : STATES[lane.status],
    flags: [flagsOf(lane), padFlags(frame.pads?.[lane.lane], at.scored)].filter(Boolean).join(", "),
    status: lane.status,
  };
}

/**
 * Whose turn it is, or the members' counts.
 *
 * @param {HeatFrame["event"]} event
 * @param {LaneData} lane
 */
function teamText({ team }, { member, members = [] }) {
  if (team?.form === "relay") return say("table.turn", { member: member ?? "" });
  return team ? say("table.by_member", { counts: members.join(", ") }) : "";
}

/** @param {LaneData} lane */
function flagsOf({ held, checked, penalties }) {
  const given = (penalties ?? []).map(({ reps, ms }) => penaltyText(reps, ms));
  return [held ? say("table.did_hold") : "", ...given, checked ? say("table.sheet_agrees") : ""].filter(Boolean).join(", ");
}

/**
 * Write lanes in a row, three or more that follow each other as the first and the last: 1–4, 7, 8.
 *
 * @param {readonly number[]} lanes in order
 */
function lanesText(lanes) {
  const runs = /** @type {number[][]} */ ([]);
  for (const lane of lanes) {
    if (runs.at(-1)?.at(-1) === lane - 1) runs.at(-1)?.push(lane);
    else runs.push([lane]);
  }
  return runs.map((run) => (run.length > 2 ? figures(`${run[0]}–${run.at(-1)}`) : run.join(", "))).join(", ");
}

/**
 * Say how official the result is.
 *
 * @param {import("../shared/types.js").ResultLife | undefined} result
 * @returns {string}
 */
export function resultWords(result) {
  if (!result) return say("shared.unofficial");
  const { stage, signed_by, changed, unchecked } = result;
  if (stage === "official" || stage === "amended") return stage === "official" ? say("table.official", { by: signed_by ?? "" }) : say("table.amended", { by: signed_by ?? "" });
  const again = changed ? say("table.changed") : "";
  const sheets = stage === "live" && unchecked.length ? say("table.to_compare", { lanes: lanesText(unchecked) }) : "";
  return [again, say("table.unofficial"), sheets].filter(Boolean).join(" ");
}

/**
 * How long a lane may be without a rep before it is worth a look: by its own forecast, where there is one.
 *
 * @param {import("../shared/types.js").Leg} leg
 * @param {import("../shared/types.js").LanePads | undefined} pads
 */
function silenceMs(leg, pads) {
  return pads?.stalled_after_ms === undefined ? stallMs(leg) : Math.max(STALL_LEAST_MS, pads.stalled_after_ms);
}

/**
 * The same by the expected time of the station alone.
 *
 * @param {import("../shared/types.js").Leg} leg
 * @returns {number} milliseconds
 */
export function stallMs(leg) {
  const reps = leg.credit === "block" ? Infinity : (leg.expected_ms / leg.amount) * STALL_REPS;
  return Math.max(STALL_LEAST_MS, Math.min(reps, leg.expected_ms * STALL_STATIONS));
}

/**
 * Between lifts and in the rest between two pieces nobody is expected to work: the format knows.
 *
 * @param {HeatFrame["event"]} event
 * @param {LaneData} lane
 * @param {number | undefined} clockMs
 */
function sinceLastRep(event, lane, clockMs) {
  if (clockMs === undefined || lane.status !== "working") return undefined;
  return formatOf(event).table.since(event, lane, clockMs);
}

/** @param {LaneData} lane */
function hasResult({ status }) {
  return status === "finished" || status === "capped" || status === "timed";
}
