/**
 * What this table did, in words, so that it can be taken back. Pure.
 *
 * @typedef {import("../shared/history.js").Sent & {lane?: number, words: string}} Done
 */

import { factWords } from "../formats/registry.js";
import { clockText } from "../shared/format.js";

/** @type {Record<string, (fact: any) => string>} */
const WORDS = {
  heat_called: () => "called to the floor",
  heat_started: () => "heat started",
  heat_recalled: ({ reason }) => `called back: ${reason}`,
  heat_ended: () => "heat ended",
  heat_signed: ({ by }) => `signed by ${by}`,
  exchanged: ({ member }) => `turn passed to member ${member}`,
  points_deducted: ({ points, reason }) => `${points} points deducted: ${reason}`,
  appeal_decided: ({ by, reason, upheld }) => `appeal ${upheld ? "upheld" : "dismissed"} by ${by}: ${reason}`,
  count_corrected: ({ scored_reps, reason }) => `count set to ${scored_reps}: ${reason}`,
  finished: ({ at_ms }) => `finish called at ${clockText(at_ms)}`,
  withdrawn: ({ reason }) => (reason ? `withdrawn: ${reason}` : "withdrawn"),
  did_not_start: () => "did not start",
  penalty_given: ({ reps, ms, reason }) => `penalty ${penaltyText(reps, ms)}: ${reason}`,
  disqualified: ({ reason }) => `disqualified: ${reason}`,
  hold_placed: () => "medical hold",
  hold_released: () => "hold released",
  sheet_checked: ({ by }) => `scoresheet agrees: ${by}`,
};

/**
 * Say what a fact did.
 *
 * @param {import("../shared/types.js").FactDraft} fact
 * @returns {string}
 */
export function wordsFor(fact) {
  const words = (WORDS[fact.fact] ?? factWords(fact.fact)?.done)?.(fact) ?? fact.fact;
  return fact.lane === undefined ? words : `lane ${fact.lane}: ${words}`;
}

/**
 * Write a penalty: −2 reps, +5 s.
 *
 * @param {number | undefined} reps
 * @param {number | undefined} ms
 */
export function penaltyText(reps, ms) {
  return [reps && `−${reps} reps`, ms && `+${ms / 1000} s`].filter(Boolean).join(", ") || "0";
}
