/**
 * What a lane has done, and how each fact that a pad may send changes it, by the same rules as
 * tallywire.core.formats.counting. Pure.
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").FactData} FactData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/types.js").TallyData} TallyData
 * @typedef {import("./book.js").Entry} Entry
 * @typedef {import("../formats/format.js").Count} Count
 */

import { formatOf } from "../formats/registry.js";
import { blockEnd, clampDone } from "../shared/plan.js";

/** A lane with one of these statuses has stopped and counts no more. */
const OUT = new Set(["withdrawn", "did_not_start", "disqualified"]);

/**
 * What the table says a lane has done.
 *
 * @param {EventData} event
 * @param {LaneData | TallyData} said
 * @returns {Count}
 */
export function countOf(event, said) {
  const { done, no_reps, status, member, members } = said;
  const own = Object.entries(said).filter(([field]) => formatOf(event).pad.fields.includes(field));
  return {
    ...Object.fromEntries(own),
    done,
    no_reps,
    out: OUT.has(status),
    ...(member && { member }),
    ...(members && { members }),
  };
}

/**
 * Whether two counts are of the same work, whoever's turn it is. In synchro another judge counts the other member on
 * another phone, so a higher count of that member is not a correction.
 * @param {EventData} event
 * @param {Count} one
 * @param {Count} other
 */
export function sameWork(event, one, other) {
  const { team } = event;
  if (team?.form === "synchro") return (one.members ?? []).every((done, index) => done <= (other.members?.[index] ?? 0));
  const own = (/** @type {Count} */ count) => JSON.stringify(formatOf(event).pad.fields.map((field) => count[field]));
  return one.done === other.done && own(one) === own(other);
}

/**
 * Units that were counted: in synchro those of one member, otherwise those of the lane.
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
 * @param {EventData} event
 * @param {Count} before
 * @param {Count} after
 */
export function added(event, before, after) {
  const members = (after.members ?? []).map((units, index) => units - (before.members?.[index] ?? 0));
  return Math.max(after.done - before.done, ...members, ...formatOf(event).pad.gains(before, after));
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
    default:
      return formatOf(event).pad.take(count, fact) ?? count;
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
 * Change the units where the work belongs: where the format has them, of one member or all of a synchro team, or of the lane.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {Pick<FactData, "at_ms" | "member">} about
 * @param {(done: number) => number} change
 * @returns {Count}
 */
function worked(event, count, { at_ms, member }, change) {
  const own = formatOf(event).pad.worked(event, count, at_ms, change);
  if (own) return own;
  if (event.team?.form !== "synchro" || !count.members) return { ...count, done: change(count.done) };
  const members = count.members.map((done, index) => ([undefined, index + 1].includes(member) ? change(done) : done));
  return { ...count, members, done: Math.min(...members) };
}
