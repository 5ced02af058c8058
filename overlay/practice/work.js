/**
 * What happens on a lane, step by step: the same reading for what an athlete does and for what a judge taps, so that the
 * two can be compared. Pure.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/types.js").Leg} Leg
 * @typedef {import("../formats/format.js").Count} Count
 * @typedef {{fact: string, at_ms: number, n?: number, member?: number, load_milli?: number, reason?: string}} Done a fact, as far as it matters here
 * @typedef {"rep" | "no_rep" | "load" | "change"} Kind work that counts, an attempt that does not, a load declared, a turn passed on
 *
 * @typedef {object} Step
 * @property {Kind} kind
 * @property {number} at_ms heat clock
 * @property {string} visit one stay at a station: no other has the same
 * @property {string} where round, piece, bar or attempt, in the format's words
 * @property {Leg} leg
 * @property {number} into units of the station done with this step
 * @property {boolean} lasting a tap for it would still count a moment later: no piece and no bar ends in between
 * @property {number} [member]
 * @property {number} [load_milli]
 */

import { formatOf } from "../formats/registry.js";
import { countOf, ownDone, withFact } from "../pad/counting.js";
import { position } from "../shared/plan.js";

/** A moment so near to an end, of the practice or of a piece, is not held against a judge who has not tapped yet. */
export const ENDING_MS = 1500;
/** @type {Record<string, Kind>} */
const KINDS = { no_rep_called: "no_rep", attempt_failed: "no_rep", attempt_declared: "load", exchanged: "change" };
/** How the pad of a format without lifts of its own counts one. @type {Record<string, string>} */
const COUNTED = { attempt_made: "rep_counted", attempt_failed: "no_rep_called" };

/**
 * Read facts in the order of time. What changes nothing is no step: a rep of one of a team that another has yet to do.
 *
 * @param {EventData} event
 * @param {LaneData} lane before the first of them
 * @param {readonly Done[]} facts that stand
 * @param {number} [member] of a team that works in step: whose reps, where a judge counts one of them alone
 * @returns {Step[]}
 */
export function stepsOf(event, lane, facts, member = undefined) {
  /** @type {Step[]} */
  const steps = [];
  let count = countOf(event, lane);
  for (const each of facts) {
    const fact = onPad(event, each);
    const before = count;
    count = withFact(event, before, /** @type {any} */ (fact), undefined);
    const done = (/** @type {Count} */ of, atMs = each.at_ms) => doneOf(event, of, atMs, member);
    const laterMs = each.at_ms + ENDING_MS;
    const later = withFact(event, before, /** @type {any} */ ({ ...fact, at_ms: laterMs }), undefined);
    const kind = KINDS[fact.fact] ?? (done(count) > done(before) ? "rep" : undefined);
    const lasting = kind !== "rep" || done(later, laterMs) > done(before, laterMs);
    if (kind) steps.push({ ...placeOf(event, before, lane.division, each, done(before)), ...told(each), kind, lasting, into: intoOf(event, done(before), done(count)) });
  }
  return steps;
}

/**
 * A station that a machine counts: its judge waits for the end of it.
 *
 * @param {Leg} leg
 */
export function isMeasured({ unit, credit }) {
  return unit !== "reps" && credit !== "block";
}

/**
 * What a judge is to do: every step, but of a station that a machine counts its end alone.
 *
 * @param {readonly Step[]} steps
 * @returns {Step[]}
 */
export function dueOf(steps) {
  return steps.filter(({ kind, leg, into }) => kind !== "rep" || !isMeasured(leg) || into >= leg.amount);
}

/**
 * What a judge did: every step; those at one station that a machine counts are one, when the last of them was.
 *
 * @param {readonly Step[]} steps
 * @returns {Step[]}
 */
export function tapsOf(steps) {
  return steps.filter(({ kind, leg, visit }, index) => {
    const next = steps.slice(index + 1).find((each) => each.kind === "rep");
    return kind !== "rep" || !isMeasured(leg) || next?.visit !== visit;
  });
}

/**
 * @param {EventData} event
 * @param {Done} fact
 */
function onPad(event, fact) {
  return formatOf(event).facts[fact.fact] ? fact : { ...fact, fact: COUNTED[fact.fact] ?? fact.fact };
}

/**
 * @param {EventData} event
 * @param {Count} count
 * @param {number} atMs
 * @param {number | undefined} member
 */
function doneOf(event, count, atMs, member) {
  return member ? ownDone(event, count, member) : formatOf(event).pad.done(event, count, atMs);
}

/**
 * @param {EventData} event
 * @param {Count} count
 * @param {string} division
 * @param {Done} fact
 * @param {number} done
 */
function placeOf(event, count, division, { at_ms }, done) {
  const { leg, round } = position(event, done);
  const where = formatOf(event).pad.where({ event, count, division, clockMs: at_ms, chosen: undefined, finishCalled: false });
  return { at_ms, where, leg, visit: `${where} ${round}.${leg.station}` };
}

/** @param {Done} fact */
function told({ member, load_milli }) {
  return { ...(member !== undefined && { member }), ...(load_milli !== undefined && { load_milli }) };
}

/**
 * @param {EventData} event
 * @param {number} before
 * @param {number} after
 */
function intoOf(event, before, after) {
  return position(event, before).station_done + after - before;
}
