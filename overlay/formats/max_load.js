/**
 * The heaviest lift: a load is declared, then judged good or not.
 *
 * @typedef {import("./format.js").Count} Count
 * @typedef {import("./format.js").Moment} Moment
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./lift.js").Attempt} Attempt
 * @typedef {import("./lift.js").LiftingData} LiftingData
 */

import { loadWords } from "../shared/format.js";
import { figures, say } from "../shared/say.js";
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
    nextWord: say("max_load.best"),
    progress: 0,
  };
}

/**
 * A lift is declared, then judged. Both are held: each is worth a lot.
 *
 * @param {Moment} moment
 */
function surface(moment) {
  if (openAttempt(moment.count)) return { noRep: true, finish: false, surface: "lift", ask: say("max_load.hold_good") };
  const rules = rulesOf(moment.event);
  const load = nextToDeclare(moment);
  const plates = platesText(rules, load) ?? say("max_load.no_plates");
  const ask = `${say("max_load.hold_declare", { load: loadText(load), unit: say(`shared.${rules.load_unit}`) })}\n${plates}`;
  return { noRep: false, finish: false, surface: "declare", ask };
}

/** @type {Record<string, import("./format.js").Action>} */
const ACTIONS = {
  declare: {
    fact: "attempt_declared",
    label: say("max_load.next_attempt"),
    yes: say("max_load.declare_it"),
    title: ({ lane }) => say("max_load.next_attempt_of", { lane: lane?.lane ?? "", name: lane?.name ?? "" }),
    fields: [{ name: "load_milli", kind: "load", label: say("max_load.load") }],
  },
  made: {
    fact: "attempt_made",
    label: say("max_load.good_lift"),
    yes: say("max_load.good_lift"),
    title: ({ lane }) => say("max_load.good_lift_of", { lane: lane?.lane ?? "", name: lane?.name ?? "" }),
    fields: [],
  },
  failed: {
    fact: "attempt_failed",
    label: say("max_load.no_lift"),
    yes: say("max_load.no_lift"),
    title: ({ lane }) => say("max_load.no_lift_of", { lane: lane?.lane ?? "", name: lane?.name ?? "" }),
    fields: [{ name: "reason", kind: "text", label: say("max_load.reason"), offers: [say("max_load.not_locked_out"), say("max_load.dropped"), say("max_load.time")], optional: true }],
  },
};

const RESTORES = ["attempts", "done", "no_reps"];

/**
 * @param {unknown} _event
 * @param {{station_done: number, station_amount: number}} lane
 */
function attemptOf(_event, { station_done, station_amount }) {
  return say("max_load.attempt_of", { attempt: station_done + 1, attempts: station_amount });
}

/**
 * A gap in load, in the unit that the result is written in; nothing while nobody has a good lift.
 *
 * @param {{result: string}} lane
 * @param {number} gap thousandths of the unit
 */
function behind({ result }, gap) {
  const unit = /[a-z]+$/.exec(result)?.[0];
  return gap > 0 && unit !== "lift" ? figures(`−${gap / 1000} ${unit && say(`shared.${unit}`)}`) : "";
}

export const MAX_LOAD = makeFormat({
  title: say("max_load.title"),
  result: (text) => (text === "no lift" ? say("max_load.no_result") : undefined),
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
      const attempt = most === undefined ? say("max_load.attempt", { attempt: turn }) : say("max_load.attempt_of", { attempt: turn, attempts: most });
      return `${attempt} · ${say(`shared.${load_unit}`)}`;
    },
    work,
    surface,
    open: (count) => openAttempt(count) !== undefined,
    complete: () => say("max_load.all_taken"),
    proof: (_, table) => attemptsText(table.attempts ?? []) || say("max_load.no_attempt"),
    press(moment, pressed) {
      if (pressed === "lift") return openAttempt(moment.count) && { fact: "attempt_made" };
      return pressed === "declare" ? { fact: "attempt_declared", load_milli: nextToDeclare(moment) } : undefined;
    },
    noRep: () => ({ fact: "attempt_failed" }),
    noRepWord: say("max_load.no_lift"),
    noRepLater: say("max_load.declare_first"),
    choices: ({ event }, shown) => (shown === "declare" ? loadSteps(rulesOf(event)) : []),
    choose: (moment, choice) => ({ chosen: stepped(rulesOf(moment.event), nextToDeclare(moment), choice) }),
    corrected: () => say("max_load.changed"),
  },
  call: {
    meaning: attemptOf,
    ends: (event, outlook) => [[ownField(outlook, "load"), (amount) => loadWords(`${amount / 1000} ${rulesOf(event).load_unit}`).replace(" ", "\u00a0")], ...PLAIN.call.ends(event, outlook)],
    facts: (lane) => [[say("max_load.attempts"), attemptsText(ownField(lane, "attempts") ?? [])]],
  },
  gaps: { meaning: attemptOf },
  air: { note: () => say("max_load.best_lift"), apart: (lane, gap) => behind(lane, gap).replace("−", "") },
  table: {
    into(event, { station_done: done }) {
      const attempts = rulesOf(event).attempts_most;
      return attempts === undefined ? say("max_load.into_any", { done }) : say("max_load.into", { done, attempts });
    },
    own: (lane) => attemptsText(ownField(lane, "attempts") ?? []),
    since: () => undefined,
    actions: ACTIONS,
    without: ["correct", "finish"],
    atHand: ["declare", "made"],
  },
  facts: {
    attempt_declared: { name: say("max_load.declared_load"), done: ({ load_milli }) => say("max_load.done_declared", { load: load_milli / 1000 }), restores: RESTORES },
    attempt_made: { name: say("max_load.done_good"), done: () => say("max_load.done_good"), restores: RESTORES },
    attempt_failed: { name: say("max_load.done_failed"), done: ({ reason }) => (reason ? say("max_load.done_failed_for", { reason }) : say("max_load.done_failed")), restores: RESTORES },
  },
});
