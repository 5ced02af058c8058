/**
 * What the table can do to a heat or a lane, each as a question with fields and the fact that it makes. Pure.
 *
 * @typedef {import("../shared/types.js").FactDraft} FactDraft
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {object} Field
 * @property {string} name of the fact's field, or one that `more` reads
 * @property {"number" | "time" | "load" | "text"} kind
 * @property {string} label
 * @property {boolean} [optional]
 * @property {string[]} [offers] what one usually writes
 * @property {(context: Context) => string} [start] what stands in the field at first
 *
 * @typedef {object} Context what is known when the question is asked
 * @property {HeatFrame} frame
 * @property {number} clockMs heat clock, 0 before the start
 * @property {number} unixMs the server's wall time
 * @property {LaneData} [lane]
 * @property {string} [by] who signed or compared last at this table
 * @property {string[]} [may] the kinds of facts that the page's link may send; missing: not known yet
 *
 * @typedef {object} Action
 * @property {string} fact its kind
 * @property {string} label on the button
 * @property {string} yes on the button that does it
 * @property {(context: Context) => string} title the question
 * @property {string} [note] what follows from it
 * @property {Field[]} fields
 * @property {(context: Context) => boolean} [when] only then it is offered
 * @property {(context: Context) => string | undefined} [closed] why it cannot be done now, though its button is seen
 * @property {(values: Values, context: Context) => object} [more] changes the values into the fact's fields
 * @property {(values: Values) => string | undefined} [problem] what is wrong with good values taken together
 *
 * @typedef {Record<string, string | number | undefined>} Values
 */

import { formatOf } from "../formats/registry.js";
import { clockTextTenths, parseClock } from "../shared/format.js";
import { onFloor, upcoming } from "../shared/day.js";
import { scored } from "../shared/plan.js";
import { TOUCHES } from "./recall.js";

/** @type {Field} */
const BY = { name: "by", kind: "text", label: "Who", start: ({ by }) => by ?? "" };

/** @param {string[]} offers @returns {Field} */
const reason = (...offers) => ({ name: "reason", kind: "text", label: "Reason", offers });

/** @param {string} verb */
const about = (verb) => (/** @type {Context} */ { lane }) => `${verb}: lane ${lane?.lane}, ${lane?.name}`;

/**
 * The heat that a call would bring to the floor: the one looked at while it waits to be called, else the first of the day
 * on the same floor that has not started.
 *
 * @param {HeatFrame} frame
 * @returns {{id: string, name: string, title?: string} | undefined}
 */
function toCall({ heat, heats = [], floor, open }) {
  const known = heats.find(({ id }) => id === heat.id) ?? heat;
  const called = heat.id === floor && open !== false;
  if (heat.status === "waiting" && !called) return known;
  return upcoming(onFloor(heats, heat.floor?.id)).find(({ id }) => id !== heat.id);
}

/**
 * Name the heat so that it is not taken for that of another event.
 *
 * @param {HeatFrame} frame
 */
export function heatTitle({ heat, heats = [] }) {
  return heats.find(({ id }) => id === heat.id)?.title ?? heat.name;
}

/** @type {Record<"call" | "start" | "recall" | "end" | "sign", Action>} */
export const HEAT_ACTIONS = {
  call: {
    fact: "heat_called",
    label: "Call to the floor",
    yes: "Call it now",
    title: ({ frame }) => `Call ${toCall(frame)?.title ?? toCall(frame)?.name} to the floor?`,
    note: "Lane pads and pictures that follow the floor turn to it now. Its clock waits for the start.",
    fields: [],
    closed: ({ frame }) => {
      if (frame.heat.id === frame.floor && frame.heat.status === "running") return "This heat is running";
      return toCall(frame) ? undefined : "No heat is left to call";
    },
    more: (_, { frame, unixMs, clockMs }) => {
      const heat = toCall(frame)?.id ?? frame.heat.id;
      return { heat, at_ms: heat === frame.heat.id ? clockMs : 0, unix_ms: Math.round(unixMs) };
    },
  },
  start: {
    fact: "heat_started",
    label: "Start the heat",
    yes: "Start now",
    title: ({ frame }) => `Start ${heatTitle(frame)}?`,
    note: "The clock stands at 0:00 the moment you press Start now. If the signal was earlier, or is still to come, say by how much: until then every page counts down.",
    fields: [
      { name: "ago", kind: "number", label: "Seconds since the signal", start: () => "0" },
      { name: "ahead", kind: "number", label: "Seconds to count down", start: () => "0", offers: ["10"] },
    ],
    problem: ({ ago, ahead }) => (ago && ahead ? "Found both, expected a signal that was or one that is to come" : undefined),
    closed: ({ frame }) => ({ waiting: undefined, running: "The heat has started", over: "The heat is over" })[frame.heat.status],
    more: ({ ago, ahead, ...rest }, { unixMs }) => ({ ...rest, at_ms: 0, unix_ms: Math.round(unixMs + (Number(ahead ?? 0) - Number(ago ?? 0)) * 1000) }),
  },
  recall: {
    fact: "heat_recalled",
    label: "False start",
    yes: "Stop and start again",
    title: ({ frame }) => `Call ${heatTitle(frame)} back?`,
    note: "The clock goes back to 0:00 and waits. No touch of this start counts, not even one that a pad sends later. The record keeps them.",
    fields: [{ ...reason("false start", "clock failed"), start: () => "false start" }],
    closed: ({ frame }) => {
      if (frame.heat.status === "waiting") return "The heat has not started";
      return frame.result?.signed_by === undefined ? undefined : "The heat is signed";
    },
    more: (values, { frame, unixMs }) => ({ ...values, recalls: frame.start_id, unix_ms: Math.round(unixMs) }),
  },
  end: {
    fact: "heat_ended",
    label: "End the heat",
    yes: "End now",
    title: ({ frame }) => `End ${heatTitle(frame)} before its time?`,
    note: "Nothing later counts. At the time cap a heat ends by itself.",
    fields: [],
    closed: ({ frame }) => ({ waiting: "The heat has not started", running: undefined, over: "The heat is over" })[frame.heat.status],
  },
  sign: {
    fact: "heat_signed",
    label: "Sign the heat",
    yes: "Sign",
    title: ({ frame }) => `Sign ${heatTitle(frame)}?`,
    note: "The result as it stands now becomes official. For the head judge.",
    fields: [BY],
    closed: ({ frame }) => {
      if (frame.heat.status !== "over") return "The heat is not over";
      return frame.result?.signed_by === undefined ? undefined : `${frame.result.signed_by} has signed this result`;
    },
    more: (values, { frame }) => ({ ...values, digest: frame.result?.digest }),
  },
};

/** @type {Record<string, Action>} */
export const LANE_ACTIONS = {
  exchange: {
    fact: "exchanged",
    label: "Exchange",
    yes: "Pass the turn",
    title: about("Exchange"),
    note: "From now on the work is done by this member of the team.",
    fields: [{ name: "member", kind: "number", label: "Member", start: nextMember }],
    when: ({ frame }) => frame.event.team?.form === "relay",
    problem: ({ member }) => (Number(member) >= 1 ? undefined : "Found 0, expected a member counted from 1"),
  },
  correct: {
    fact: "count_corrected",
    label: "Correct",
    yes: "Set the count",
    title: about("Correct the count"),
    note: "The cumulative number that holds from now on. Later reps are added to it.",
    fields: [
      { name: "scored_reps", kind: "number", label: "Cumulative number", start: countText },
      reason("scoresheet", "missed reps", "counted too many", "pad failed"),
    ],
  },
  finish: {
    fact: "finished",
    label: "Finish",
    yes: "Call the finish",
    title: about("Call the finish"),
    note: "It holds once the count is full, and if no rep was counted after it.",
    fields: [{ name: "at_ms", kind: "time", label: "Time", start: ({ clockMs }) => clockTextTenths(clockMs) }],
  },
  withdraw: {
    fact: "withdrawn",
    label: "Withdraws",
    yes: "Withdrawn",
    title: about("Withdraws"),
    note: "Stops counting and ranks after everybody with a result.",
    fields: [{ ...reason("injury", "own choice"), optional: true }],
  },
  did_not_start: {
    fact: "did_not_start",
    label: "Did not start",
    yes: "Did not start",
    title: about("Did not start"),
    fields: [],
  },
  penalty: {
    fact: "penalty_given",
    label: "Penalty",
    yes: "Give the penalty",
    title: about("Penalty"),
    note: "Reps are taken from the count, seconds added to the time. For the head judge.",
    fields: [
      { name: "reps", kind: "number", label: "Reps", start: () => "0" },
      { name: "seconds", kind: "number", label: "Seconds", start: () => "0" },
      reason("movement standard", "lane fault", "equipment"),
    ],
    more: ({ seconds, ...rest }) => ({ ...rest, ms: Number(seconds ?? 0) * 1000 }),
    problem: ({ reps, seconds }) => (reps || seconds ? undefined : "Found 0 reps and 0 seconds, expected one of them above 0"),
  },
  deduct: {
    fact: "points_deducted",
    label: "Deduct points",
    yes: "Deduct",
    title: about("Deduct points"),
    note: "Taken from the overall standing, not from this event. For the head judge.",
    fields: [{ name: "points", kind: "number", label: "Points" }, reason("conduct", "late to the floor")],
    problem: ({ points }) => (Number(points) > 0 ? undefined : "Found 0 points, expected 1 or more"),
  },
  disqualify: {
    fact: "disqualified",
    label: "Disqualify",
    yes: "Disqualify",
    title: about("Disqualify"),
    note: "For the head judge.",
    fields: [reason()],
  },
  hold: {
    fact: "hold_placed",
    label: "Medical hold",
    yes: "Place the hold",
    title: about("Medical hold"),
    note: "Takes the lane's numbers off the air until somebody releases it.",
    fields: [],
    when: ({ lane }) => !lane?.held,
  },
  release: {
    fact: "hold_released",
    label: "Release the hold",
    yes: "Release it",
    title: about("Release the medical hold"),
    note: "The lane's numbers go back on the air.",
    fields: [],
    when: ({ lane }) => lane?.held === true,
  },
  sheet: {
    fact: "sheet_checked",
    label: "Scoresheet agrees",
    yes: "It agrees",
    title: about("Scoresheet agrees"),
    note: "The sheet was compared with the count.",
    fields: [BY],
    when: ({ lane }) => !lane?.checked,
  },
  upheld: appeal("upheld", true),
  dismissed: appeal("dismissed", false),
};

/**
 * Everything that can be done to a lane: what the format has of its own, then what every lane has.
 *
 * @param {HeatFrame} frame
 * @returns {Record<string, Action>}
 */
export function laneActions({ event }) {
  const { actions, without } = formatOf(event).table;
  return { ...actions, ...Object.fromEntries(Object.entries(LANE_ACTIONS).filter(([name]) => !without.includes(name))) };
}

/**
 * The actions that are open now.
 *
 * @param {Record<string, Action>} actions
 * @param {Context} context
 * @returns {[string, Action][]}
 */
export function openActions(actions, context) {
  return Object.entries(actions).filter(([, action]) => !whyNot(action, context) && (!action.when || action.when(context)));
}

/**
 * Say why something cannot be done now.
 *
 * @param {Action} action
 * @param {Context} context
 * @returns {string | undefined} undefined: it can
 */
export function whyNot(action, context) {
  if (context.may && !context.may.includes(action.fact)) return "This page's link may not do that: the scoring table's link does";
  return action.closed?.(context);
}

/**
 * Read what stands in the fields. A problem is named with its field.
 *
 * @param {Action} action
 * @param {Record<string, string>} texts
 * @returns {{values: Values} | {field: string, problem: string}}
 */
export function readFields(action, texts) {
  /** @type {Values} */
  const values = {};
  for (const field of action.fields) {
    const text = (texts[field.name] ?? "").trim();
    const value = readField(field, text);
    if (value === undefined) return { field: field.name, problem: problemOf(field, text) };
    if (value !== "") values[field.name] = value;
  }
  const problem = action.problem?.(values);
  return problem ? { field: action.fields[0].name, problem } : { values };
}

/**
 * Make the fact of an answered question.
 *
 * @param {Action} action
 * @param {Values} values
 * @param {Context} context
 * @param {string} id
 * @returns {FactDraft}
 */
export function draftOf(action, values, context, id) {
  const lane = context.lane && { lane: context.lane.lane };
  const fact = { fact: action.fact, id, heat: context.frame.heat.id, at_ms: context.clockMs, ...lane, ...startOf(action.fact, context.frame) };
  return { ...fact, ...(action.more ? action.more(values, context) : values) };
}

/** What is counted, and the end of the heat: a false start takes it back. What the head judge decides stands. */
const OF_A_START = new Set([...TOUCHES, "count_corrected", "heat_ended"]);

/**
 * The start that a fact of this kind names.
 *
 * @param {string} kind
 * @param {HeatFrame} frame
 * @returns {{start?: string}}
 */
export function startOf(kind, { start_id }) {
  return start_id !== undefined && OF_A_START.has(kind) ? { start: start_id } : {};
}

/**
 * @param {Field} field
 * @param {string} text
 * @returns {string | number | undefined} undefined: not good
 */
function readField(field, text) {
  if (field.kind === "time") return parseClock(text);
  if (field.kind === "load") return readMilli(text);
  if (field.kind === "number") return /^\d{1,6}$/.test(text) ? Number(text) : undefined;
  return text || field.optional ? text.slice(0, 200) : undefined;
}

/**
 * Read a load in thousandths of the workout's unit: 82.5 → 82500.
 *
 * @param {string} text
 */
function readMilli(text) {
  const match = /^(\d{1,4})(?:[.,](\d{1,3}))?$/.exec(text);
  return match ? Number(match[1]) * 1000 + Number((match[2] ?? "").padEnd(3, "0")) : undefined;
}

/**
 * @param {Field} field
 * @param {string} text
 */
function problemOf(field, text) {
  if (field.kind === "time") return `Found "${text}", expected a time such as 11:42 or 11:42.3`;
  if (field.kind === "load") return `Found "${text}", expected a load such as 80 or 82.5`;
  if (field.kind === "number") return `Found "${text}", expected a whole number, 0 or more`;
  return "Please fill this in: it is kept in the record";
}

/**
 * @param {string} word
 * @param {boolean} upheld
 * @returns {Action}
 */
function appeal(word, upheld) {
  return {
    fact: "appeal_decided",
    label: `Appeal ${word}`,
    yes: `Appeal ${word}`,
    title: about(`Appeal ${word}`),
    note: "Whatever it changes is entered before it: a correction, a penalty taken back.",
    fields: [BY, { ...reason(), label: "What was decided" }],
    more: (values) => ({ ...values, upheld }),
  };
}

/** @param {Context} context */
function nextMember({ frame, lane }) {
  return String(((lane?.member ?? 1) % (frame.event.team?.size ?? 2)) + 1);
}

/** @param {Context} context */
function countText({ frame, lane }) {
  return String(scored(frame.event, lane?.done ?? 0));
}
