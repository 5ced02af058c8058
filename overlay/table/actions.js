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
import { say } from "../shared/say.js";
import { TOUCHES } from "./recall.js";

/** @type {Field} */
const BY = { name: "by", kind: "text", label: say("table.who"), start: ({ by }) => by ?? "" };

/** @param {string[]} offers @returns {Field} */
const reason = (...offers) => ({ name: "reason", kind: "text", label: say("table.reason"), offers });

/** @param {string} what */
const about = (what) => (/** @type {Context} */ { lane }) => say("table.about", { what, lane: lane?.lane ?? "", name: lane?.name ?? "" });

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
    label: say("table.call"),
    yes: say("table.call_yes"),
    title: ({ frame }) => say("table.call_title", { heat: toCall(frame)?.title ?? toCall(frame)?.name ?? "" }),
    note: say("table.call_note"),
    fields: [],
    closed: ({ frame }) => {
      if (frame.heat.id === frame.floor && frame.heat.status === "running") return say("table.this_running");
      return toCall(frame) ? undefined : say("table.none_left");
    },
    more: (_, { frame, unixMs, clockMs }) => {
      const heat = toCall(frame)?.id ?? frame.heat.id;
      return { heat, at_ms: heat === frame.heat.id ? clockMs : 0, unix_ms: Math.round(unixMs) };
    },
  },
  start: {
    fact: "heat_started",
    label: say("table.start"),
    yes: say("table.start_yes"),
    title: ({ frame }) => say("table.start_title", { heat: heatTitle(frame) }),
    note: say("table.start_note"),
    fields: [
      { name: "ago", kind: "number", label: say("table.since_signal"), start: () => "0" },
      { name: "ahead", kind: "number", label: say("table.count_down"), start: () => "0", offers: ["10"] },
    ],
    problem: ({ ago, ahead }) => (ago && ahead ? say("table.found_both") : undefined),
    closed: ({ frame }) => ({ waiting: undefined, running: say("table.has_started"), over: say("crew.heat_over") })[frame.heat.status],
    more: ({ ago, ahead, ...rest }, { unixMs }) => ({ ...rest, at_ms: 0, unix_ms: Math.round(unixMs + (Number(ahead ?? 0) - Number(ago ?? 0)) * 1000) }),
  },
  recall: {
    fact: "heat_recalled",
    label: say("table.recall"),
    yes: say("table.recall_yes"),
    title: ({ frame }) => say("table.recall_title", { heat: heatTitle(frame) }),
    note: say("table.recall_note"),
    fields: [{ ...reason(say("table.reason_false_start"), say("table.reason_clock_failed")), start: () => say("table.reason_false_start") }],
    closed: ({ frame }) => {
      if (frame.heat.status === "waiting") return say("table.not_started");
      return frame.result?.signed_by === undefined ? undefined : say("table.is_signed");
    },
    more: (values, { frame, unixMs }) => ({ ...values, recalls: frame.start_id, unix_ms: Math.round(unixMs) }),
  },
  end: {
    fact: "heat_ended",
    label: say("table.end"),
    yes: say("table.end_yes"),
    title: ({ frame }) => say("table.end_title", { heat: heatTitle(frame) }),
    note: say("table.end_note"),
    fields: [],
    closed: ({ frame }) => ({ waiting: say("table.not_started"), running: undefined, over: say("crew.heat_over") })[frame.heat.status],
  },
  sign: {
    fact: "heat_signed",
    label: say("table.sign"),
    yes: say("table.sign_yes"),
    title: ({ frame }) => say("table.sign_title", { heat: heatTitle(frame) }),
    note: say("table.sign_note"),
    fields: [BY],
    closed: ({ frame }) => {
      if (frame.heat.status !== "over") return say("table.not_over");
      return frame.result?.signed_by === undefined ? undefined : say("table.has_signed", { name: frame.result.signed_by });
    },
    more: (values, { frame }) => ({ ...values, digest: frame.result?.digest }),
  },
};

/** @type {Record<string, Action>} */
export const LANE_ACTIONS = {
  exchange: {
    fact: "exchanged",
    label: say("table.exchange"),
    yes: say("table.exchange_yes"),
    title: about(say("table.exchange")),
    note: say("table.exchange_note"),
    fields: [{ name: "member", kind: "number", label: say("table.member"), start: nextMember }],
    when: ({ frame }) => frame.event.team?.form === "relay",
    problem: ({ member }) => (Number(member) >= 1 ? undefined : say("table.member_zero")),
  },
  correct: {
    fact: "count_corrected",
    label: say("table.correct"),
    yes: say("table.correct_yes"),
    title: about(say("table.correct_title")),
    note: say("table.correct_note"),
    fields: [
      { name: "scored_reps", kind: "number", label: say("table.cumulative"), start: countText },
      reason(say("table.reason_scoresheet"), say("table.reason_missed"), say("table.reason_too_many"), say("table.reason_pad_failed")),
    ],
  },
  finish: {
    fact: "finished",
    label: say("table.finish"),
    yes: say("table.finish_yes"),
    title: about(say("table.finish_yes")),
    note: say("table.finish_note"),
    fields: [{ name: "at_ms", kind: "time", label: say("table.time"), start: ({ clockMs }) => clockTextTenths(clockMs) }],
  },
  withdraw: {
    fact: "withdrawn",
    label: say("table.withdraw"),
    yes: say("table.withdraw_yes"),
    title: about(say("table.withdraw")),
    note: say("table.withdraw_note"),
    fields: [{ ...reason(say("crew.injury"), say("table.reason_own_choice")), optional: true }],
  },
  did_not_start: {
    fact: "did_not_start",
    label: say("table.did_not_start"),
    yes: say("table.did_not_start"),
    title: about(say("table.did_not_start")),
    fields: [],
  },
  penalty: {
    fact: "penalty_given",
    label: say("table.penalty"),
    yes: say("table.penalty_yes"),
    title: about(say("table.penalty")),
    note: say("table.penalty_note"),
    fields: [
      { name: "reps", kind: "number", label: say("table.reps"), start: () => "0" },
      { name: "seconds", kind: "number", label: say("table.seconds"), start: () => "0" },
      reason(say("table.reason_standard"), say("table.reason_lane_fault"), say("table.reason_equipment")),
    ],
    more: ({ seconds, ...rest }) => ({ ...rest, ms: Number(seconds ?? 0) * 1000 }),
    problem: ({ reps, seconds }) => (reps || seconds ? undefined : say("table.penalty_none")),
  },
  deduct: {
    fact: "points_deducted",
    label: say("table.deduct"),
    yes: say("table.deduct_yes"),
    title: about(say("table.deduct")),
    note: say("table.deduct_note"),
    fields: [{ name: "points", kind: "number", label: say("table.points") }, reason(say("table.reason_conduct"), say("table.reason_late"))],
    problem: ({ points }) => (Number(points) > 0 ? undefined : say("table.deduct_none")),
  },
  disqualify: {
    fact: "disqualified",
    label: say("table.disqualify"),
    yes: say("table.disqualify"),
    title: about(say("table.disqualify")),
    note: say("table.for_head"),
    fields: [reason()],
  },
  hold: {
    fact: "hold_placed",
    label: say("table.hold"),
    yes: say("table.hold_yes"),
    title: about(say("table.hold")),
    note: say("table.hold_note"),
    fields: [],
    when: ({ lane }) => !lane?.held,
  },
  release: {
    fact: "hold_released",
    label: say("table.release"),
    yes: say("table.release_yes"),
    title: about(say("table.release_title")),
    note: say("table.release_note"),
    fields: [],
    when: ({ lane }) => lane?.held === true,
  },
  sheet: {
    fact: "sheet_checked",
    label: say("table.sheet"),
    yes: say("table.sheet_yes"),
    title: about(say("table.sheet")),
    note: say("table.sheet_note"),
    fields: [BY],
    when: ({ lane }) => !lane?.checked,
  },
  upheld: appeal(say("table.appeal_upheld"), true),
  dismissed: appeal(say("table.appeal_dismissed"), false),
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
  if (context.may && !context.may.includes(action.fact)) return say("table.may_not");
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
  if (field.kind === "time") return say("table.no_time", { text });
  if (field.kind === "load") return say("table.no_load", { text });
  if (field.kind === "number") return say("table.no_number", { text });
  return say("table.fill_in");
}

/**
 * @param {string} label
 * @param {boolean} upheld
 * @returns {Action}
 */
function appeal(label, upheld) {
  return {
    fact: "appeal_decided",
    label,
    yes: label,
    title: about(label),
    note: say("table.appeal_note"),
    fields: [BY, { ...reason(), label: say("table.decided") }],
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
