/**
 * What this table did, in words, so that it can be taken back. Pure.
 *
 * @typedef {import("../shared/history.js").Sent & {lane?: number, words: string}} Done
 */

import { factWords } from "../formats/registry.js";
import { clockText } from "../shared/format.js";
import { say } from "../shared/say.js";

/** @type {Record<string, (fact: any) => string>} */
const WORDS = {
  heat_called: () => say("table.did_call"),
  heat_started: () => say("table.did_start"),
  heat_recalled: ({ reason }) => say("table.did_recall", { reason }),
  heat_ended: () => say("table.did_end"),
  heat_signed: ({ by }) => say("table.did_sign", { by }),
  exchanged: ({ member }) => say("table.did_exchange", { member }),
  points_deducted: ({ points, reason }) => say("table.did_deduct", { points, reason }),
  appeal_decided: ({ by, reason, upheld }) => say(upheld ? "table.did_uphold" : "table.did_dismiss", { by, reason }),
  count_corrected: ({ scored_reps, reason }) => say("table.did_correct", { count: scored_reps, reason }),
  finished: ({ at_ms }) => say("table.did_finish", { time: clockText(at_ms) }),
  withdrawn: ({ reason }) => (reason ? say("table.did_withdraw_for", { reason }) : say("table.did_withdraw")),
  did_not_start: () => say("table.did_not_come"),
  penalty_given: ({ reps, ms, reason }) => say("table.did_penalty", { penalty: penaltyText(reps, ms), reason }),
  disqualified: ({ reason }) => say("table.did_disqualify", { reason }),
  hold_placed: () => say("table.did_hold"),
  hold_released: () => say("table.did_release"),
  sheet_checked: ({ by }) => say("table.did_check", { by }),
};

/**
 * Say what a fact did.
 *
 * @param {import("../shared/types.js").FactDraft} fact
 * @returns {string}
 */
export function wordsFor(fact) {
  const words = (WORDS[fact.fact] ?? factWords(fact.fact)?.done)?.(fact) ?? fact.fact;
  return fact.lane === undefined ? words : say("table.did_lane", { lane: fact.lane, what: words });
}

/**
 * Write a penalty: −2 reps, +5 s.
 *
 * @param {number | undefined} reps
 * @param {number | undefined} ms
 */
export function penaltyText(reps, ms) {
  return [reps && say("table.penalty_reps", { reps }), ms && say("table.penalty_seconds", { seconds: ms / 1000 })].filter(Boolean).join(", ") || "0";
}
