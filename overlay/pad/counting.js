/**
 * What a lane has done, and what a fact that a pad may send makes of it: the same rules as tallywire.core.formats.
 * Pure.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").FactData} FactData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/types.js").TallyData} TallyData
 * @typedef {import("./book.js").Entry} Entry
 *
 * @typedef {import("../shared/types.js").Attempt} Attempt
 *
 * @typedef {object} Count
 * @property {number} done units; in intervals of the piece last worked in, in synchro what all have done
 * @property {number} no_reps
 * @property {boolean} out stopped for good: withdrawn, disqualified or did not start
 * @property {number[]} [pieces] intervals: units by piece
 * @property {number} [member] relay: whose turn it is
 * @property {number[]} [members] teams: units by member
 * @property {Attempt[]} [attempts] max load
 *
 * @typedef {object} Piece a window of an intervals workout, as of a time on the clock
 * @property {number} number from 1
 * @property {boolean} open its window is open
 * @property {number} start_ms of this window, or in a rest of the next
 * @property {number} end_ms
 */

import { blockEnd, clampDone, isComplete, position } from "../shared/plan.js";

/** Who has one of these stopped, and counts no more. */
const OUT = new Set(["withdrawn", "did_not_start", "disqualified"]);

/**
 * What the table says a lane has done.
 *
 * @param {LaneData | TallyData} said
 * @returns {Count}
 */
export function countOf({ done, no_reps, status, pieces, member, members, attempts }) {
  return {
    done,
    no_reps,
    out: OUT.has(status),
    ...(pieces && { pieces }),
    ...(member && { member }),
    ...(members && { members }),
    ...(attempts && { attempts }),
  };
}

/**
 * Whether two counts are of the same work, whoever's turn it is. In synchro another judge counts the other member on
 * another phone: more of that is no correction.
 *
 * @param {EventData} event
 * @param {Count} one
 * @param {Count} other
 */
export function sameWork({ team }, one, other) {
  if (team?.form === "synchro") return (one.members ?? []).every((done, index) => done <= (other.members?.[index] ?? 0));
  return one.done === other.done && JSON.stringify([one.pieces, one.attempts]) === JSON.stringify([other.pieces, other.attempts]);
}

/**
 * The piece in progress; in a rest the one that comes; after the last window the last one, closed.
 *
 * @param {EventData} event
 * @param {number} atMs heat clock
 * @returns {Piece | undefined} undefined: no intervals
 */
export function pieceAt({ intervals }, atMs) {
  if (!intervals) return undefined;
  const { piece_count, work_ms, rest_ms } = intervals;
  const last = piece_count - 1;
  const turn = Math.min(last, Math.floor(Math.max(0, atMs) / (work_ms + rest_ms)));
  const open = atMs <= turn * (work_ms + rest_ms) + work_ms;
  const index = open ? turn : Math.min(last, turn + 1);
  const start_ms = index * (work_ms + rest_ms);
  return { number: index + 1, open, start_ms, end_ms: start_ms + work_ms };
}

/**
 * Units done of what is being done now: in intervals, of the piece in progress or to come.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {number | undefined} clockMs
 */
export function doneAt(event, count, clockMs) {
  const piece = pieceAt(event, clockMs ?? 0);
  return piece && count.pieces ? (count.pieces[piece.number - 1] ?? 0) : count.done;
}

/**
 * Units of who was counted: in synchro of the one member, else of the lane.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {number | undefined} member
 */
export function ownDone({ team }, { done, members }, member) {
  return team?.form === "synchro" && member ? (members?.[member - 1] ?? done) : done;
}

/**
 * Units that were added, wherever they belong.
 *
 * @param {Count} before
 * @param {Count} after
 */
export function added(before, after) {
  const slots = after.pieces ? [before.pieces, after.pieces] : [before.members, after.members];
  const gains = (slots[1] ?? []).map((units, index) => units - (slots[0]?.[index] ?? 0));
  return Math.max(after.done - before.done, ...gains);
}

/**
 * The lift that is declared and not judged.
 *
 * @param {Count} count
 */
export function openAttempt({ attempts = [] }) {
  const last = attempts[attempts.length - 1];
  return last && last.made === undefined ? last : undefined;
}

/**
 * When the lane's bar has to be complete.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {{bar: number, closes_ms: number} | undefined} undefined: no ladder, or all bars are complete
 */
export function barOf({ ladder, legs }, done) {
  const index = legs.findIndex((leg) => done < leg.done_after);
  return ladder && index >= 0 ? { bar: index + 1, closes_ms: (index + 1) * ladder.window_ms } : undefined;
}

/**
 * How many units are left of the station in progress.
 *
 * @param {EventData} event
 * @param {number} done
 */
export function unitsLeft(event, done) {
  const { leg, station_done } = position(event, done);
  return leg.amount - station_done;
}

/**
 * The last station of fixed work is in progress.
 *
 * @param {EventData} event
 * @param {number} done
 */
export function onLastStation(event, done) {
  const { total_done } = event;
  return total_done !== undefined && !isComplete(event, done) && done + unitsLeft(event, done) === total_done;
}

/**
 * @param {EventData} event
 * @param {Count} count
 * @param {FactData} fact
 * @param {Entry | undefined} struck what the fact voids
 * @returns {Count}
 */
export function withFact(event, count, fact, struck) {
  if (fact.fact === "fact_voided") return struck ? without(event, count, struck) : count;
  if (count.out) return count;
  switch (fact.fact) {
    case "rep_counted":
      return worked(event, count, fact, (done) => clampDone(event, done + (fact.n ?? 1)));
    case "block_completed":
      return worked(event, count, fact, (done) => blockEnd(event, done) ?? done);
    case "no_rep_called":
      return { ...count, no_reps: count.no_reps + 1 };
    case "withdrawn":
      return { ...count, out: true };
    case "exchanged":
      return { ...count, member: fact.member };
    case "attempt_declared":
      return declared(count, fact.load_milli ?? 0);
    case "attempt_made":
      return judged(count, true);
    case "attempt_failed":
      return judged(count, false);
    default:
      return count;
  }
}

/**
 * @param {EventData} event
 * @param {Count} count
 * @param {Entry} struck
 * @returns {Count}
 */
function without(event, count, struck) {
  if (struck.before) return { ...count, ...struck.before };
  const { at_ms, member, delta } = struck;
  const shorter = delta ? worked(event, count, { at_ms, member }, (done) => clampDone(event, done - delta)) : count;
  return {
    ...shorter,
    no_reps: count.no_reps - (struck.fact === "no_rep_called" ? 1 : 0),
    out: count.out && struck.fact !== "withdrawn",
  };
}

/**
 * Change the units where the work belongs: of a piece, of one member or all of a synchro team, or of the lane.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {Pick<FactData, "at_ms" | "member">} about
 * @param {(done: number) => number} change
 * @returns {Count}
 */
function worked(event, count, { at_ms, member }, change) {
  const piece = pieceAt(event, at_ms);
  if (piece) {
    if (!piece.open) return count;
    const pieces = (count.pieces ?? []).map((done, index) => (index + 1 === piece.number ? change(done) : done));
    return { ...count, pieces, done: pieces[piece.number - 1] ?? 0 };
  }
  if (event.team?.form !== "synchro" || !count.members) return { ...count, done: change(count.done) };
  const members = count.members.map((done, index) => ([undefined, index + 1].includes(member) ? change(done) : done));
  return { ...count, members, done: Math.min(...members) };
}

/**
 * @param {Count} count
 * @param {number} load_milli
 * @returns {Count}
 */
function declared(count, load_milli) {
  const kept = (count.attempts ?? []).filter(({ made }) => made !== undefined);
  return { ...count, attempts: [...kept, { load_milli }] };
}

/**
 * @param {Count} count
 * @param {boolean} made
 * @returns {Count}
 */
function judged(count, made) {
  const open = openAttempt(count);
  if (!open) return count;
  const attempts = [...(count.attempts ?? []).slice(0, -1), { ...open, made }];
  return { ...count, attempts, done: count.done + 1, no_reps: count.no_reps + (made ? 0 : 1) };
}
