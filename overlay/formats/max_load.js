/**
 * The heaviest lift: a load is declared, then judged good or not.
 *
 * @typedef {import("./format.js").Count} Count
 * @typedef {import("./format.js").Moment} Moment
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./lift.js").Attempt} Attempt
 * @typedef {import("./lift.js").LiftingData} LiftingData
 */

import { attemptsText, bestLift, loadSteps, loadText, nextLoad, platesText, stepped } from "./lift.js";
import { makeFormat, ownField, PLAIN } from "./plain.js";

/**
 * @param {EventData} event
 * @returns {LiftingData}
 */
function rulesOf(event) {
  return ownField(event, "lifting");
}

/**
 * The lift that is declared and not judged.
 *
 * @param {Count} count
 * @returns {Attempt | undefined}
 */
function openAttempt({ attempts = [] }) {
  const last = attempts[attempts.length - 1];
  return last && last.made === undefined ? last : undefined;
}

/**
 * @param {Count} count
 * @param {number} load_milli
 * @returns {Count}
 */
function declared(count, load_milli) {
  const kept = /** @type {Attempt[]} */ (count.attempts ?? []).filter(({ made }) => made !== undefined);
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

/**
 * The load that would be declared now: what the judge chose, else what is usual next.
 *
 * @param {Moment} moment
 * @returns {number}
 */
function nextToDeclare({ event, count, chosen }) {
  return chosen ?? nextLoad(rulesOf(event), count.attempts ?? []);
}

/** @param {Moment} moment */
function all({ event, count }) {
  const most = rulesOf(event).attempts_most;
  return most !== undefined && count.done >= most;
}

/**
 * The load that is declared, or that the judge is about to declare.
 *
 * @param {Moment} moment
 */
function work(moment) {
  const { event, count } = moment;
  const best = bestLift(count.attempts ?? []);
  const shown = openAttempt(count)?.load_milli ?? nextToDeclare(moment);
  return {
    number: loadText(all(moment) ? best : shown),
    station: event.legs[0].movement,
    load: "",
    into: attemptsText(count.attempts ?? []),
    next: best ? loadText(best) : "–",
    nextWord: "best",
    progress: 0,
  };
}

/**
 * A lift is declared, then judged. Both are held: each is worth a lot.
 *
 * @param {Moment} moment
 */
function surface(moment) {
  if (openAttempt(moment.count)) return { noRep: true, finish: false, surface: "lift", ask: "Hold for a good lift" };
  const rules = rulesOf(moment.event);
  const load = nextToDeclare(moment);
  const plates = platesText(rules, load) ?? "No plates make that load";
  const ask = `Hold to declare ${loadText(load)} ${rules.load_unit}\n${plates}`;
  return { noRep: false, finish: false, surface: "declare", ask };
}

/** @type {Record<string, import("./format.js").Action>} */
const ACTIONS = {
  declare: {
    fact: "attempt_declared",
    label: "Next attempt",
    yes: "Declare it",
    title: ({ lane }) => `Next attempt: lane ${lane?.lane}, ${lane?.name}`,
    fields: [{ name: "load_milli", kind: "load", label: "Load" }],
  },
  made: {
    fact: "attempt_made",
    label: "Good lift",
    yes: "Good lift",
    title: ({ lane }) => `Good lift: lane ${lane?.lane}, ${lane?.name}`,
    fields: [],
  },
  failed: {
    fact: "attempt_failed",
    label: "No lift",
    yes: "No lift",
    title: ({ lane }) => `No lift: lane ${lane?.lane}, ${lane?.name}`,
    fields: [{ name: "reason", kind: "text", label: "Reason", offers: ["not locked out", "dropped", "time"], optional: true }],
  },
};

const RESTORES = ["attempts", "done", "no_reps"];

/**
 * @param {unknown} _event
 * @param {{station_done: number, station_amount: number}} lane
 */
function attemptOf(_event, { station_done, station_amount }) {
  return `attempt ${station_done + 1} of ${station_amount}`;
}

/**
 * A gap in load, in the unit that the result is written in; nothing while nobody has a good lift.
 *
 * @param {{result: string}} lane
 * @param {number} gap thousandths of the unit
 */
function behind({ result }, gap) {
  const unit = /[a-z]+$/.exec(result)?.[0];
  return gap > 0 && unit !== "lift" ? `−${gap / 1000} ${unit}` : "";
}

export const MAX_LOAD = makeFormat({
  title: "Heaviest lift",
  unit: "attempts",
  marks: false,
  behind,
  pad: {
    fields: ["attempts"],
    take(count, { fact, load_milli = 0 }) {
      if (fact === "attempt_declared") return declared(count, load_milli);
      return ["attempt_made", "attempt_failed"].includes(fact) ? judged(count, fact === "attempt_made") : undefined;
    },
    where(moment) {
      const { attempts_most: most, load_unit } = rulesOf(moment.event);
      const turn = moment.count.done + (all(moment) ? 0 : 1);
      return `attempt ${turn}${most === undefined ? "" : ` of ${most}`} · ${load_unit}`;
    },
    work,
    surface,
    open: (count) => openAttempt(count) !== undefined,
    complete: () => "All attempts are taken",
    proof: (_, table) => attemptsText(table.attempts ?? []) || "no attempt",
    press(moment, pressed) {
      if (pressed === "lift") return openAttempt(moment.count) && { fact: "attempt_made" };
      return pressed === "declare" ? { fact: "attempt_declared", load_milli: nextToDeclare(moment) } : undefined;
    },
    noRep: () => ({ fact: "attempt_failed" }),
    noRepWord: "No lift",
    noRepLater: "Declare the load first",
    choices: ({ event }, shown) => (shown === "declare" ? loadSteps(rulesOf(event)) : []),
    choose: (moment, choice) => ({ chosen: stepped(rulesOf(moment.event), nextToDeclare(moment), choice) }),
    corrected: () => "The table changed the attempts",
  },
  call: {
    meaning: attemptOf,
    ends: (event, outlook) => [[ownField(outlook, "load"), (amount) => `${amount / 1000}\u00a0${rulesOf(event).load_unit}`], ...PLAIN.call.ends(event, outlook)],
    facts: (lane) => [["Attempts", attemptsText(ownField(lane, "attempts") ?? [])]],
  },
  gaps: { meaning: attemptOf },
  air: { note: () => "best lift", apart: (lane, gap) => behind(lane, gap).slice(1) },
  table: {
    into: (event, { station_done }) => `${station_done} of ${rulesOf(event).attempts_most ?? "any"} attempts`,
    own: (lane) => attemptsText(ownField(lane, "attempts") ?? []),
    since: () => undefined,
    actions: ACTIONS,
    without: ["correct", "finish"],
    atHand: ["declare", "made"],
  },
  facts: {
    attempt_declared: { name: "declared load", done: ({ load_milli }) => `next attempt ${load_milli / 1000}`, restores: RESTORES },
    attempt_made: { name: "good lift", done: () => "good lift", restores: RESTORES },
    attempt_failed: { name: "no lift", done: ({ reason }) => (reason ? `no lift: ${reason}` : "no lift"), restores: RESTORES },
  },
});
