/**
 * What the practice page says. Pure.
 *
 * @typedef {import("./marking.js").Mark} Mark
 * @typedef {import("./work.js").Step} Step
 */

import { amountText } from "../shared/format.js";
import { figures as figuresText, say } from "../shared/say.js";
import { median } from "./marking.js";


/** How long a practice lasts: minutes, or the whole heat. */
export const LENGTHS = ["2", "5", "all"];
/** Something said aloud is heard for so long. */
const ALOUD_MS = 2500;

/**
 * The figures of a station, or of all: label and text, without those that say nothing.
 *
 * @param {Mark} mark
 * @returns {[string, string, boolean][]} the last: something was not right
 */
export function figures(mark) {
  const { due, counted, missed, doubled, extra, late, lags_ms, no_reps, called, let_through, refused, others, wrong } = mark;
  const of = (/** @type {number} */ some, /** @type {number} */ all) => say("practice.of", { some, all });
  /** @type {[string, string, boolean, boolean][]} */
  const all = [
    [say("practice.counted"), of(counted, due), counted !== due, true],
    [say("practice.missed"), String(missed), true, missed > 0],
    [say("practice.doubled"), String(doubled), true, doubled > 0],
    [say("practice.extra"), String(extra), true, extra > 0],
    [say("practice.late"), String(late), true, late > 0],
    [say("practice.how_late"), lagText(lags_ms), false, lags_ms.length > 0],
    [say("practice.called"), of(called, no_reps), called !== no_reps, no_reps > 0],
    [say("practice.let_through"), String(let_through), true, let_through > 0],
    [say("practice.refused"), String(refused), true, refused > 0],
    [say("practice.others"), of(others - wrong, others), wrong > 0, others > 0],
  ];
  return all.filter(([, , , says]) => says).map(([label, text, bad]) => [label, text, bad]);
}

/** @param {string} length one of them */
export function lengthText(length) {
  return length === "all" ? say("practice.whole") : say("practice.minutes", { n: Number(length) });
}

/** @param {readonly number[]} lags */
function lagText(lags) {
  return say("practice.lags", { middle: seconds(median(lags) ?? 0), worst: seconds(Math.max(...lags)) });
}

/** @param {number} ms */
function seconds(ms) {
  return say("practice.second", { time: figuresText(`${ms < 0 ? "−" : ""}${(Math.abs(ms) / 1000).toFixed(2)}`) });
}

/**
 * What the athlete is at.
 *
 * @param {readonly Step[]} steps
 * @param {number} atMs
 */
export function stationText(steps, atMs) {
  const step = steps.find(({ at_ms }) => at_ms > atMs) ?? steps.at(-1);
  return step ? say("practice.station", { movement: step.leg.movement, amount: amountText(step.leg.amount, step.leg.unit) }) : "";
}

/**
 * What is to be heard at a moment: a load that is declared, a turn that passes, and whose turn it is.
 *
 * @param {readonly Step[]} steps
 * @param {number} atMs
 */
export function aloud(steps, atMs) {
  const said = steps.filter(({ at_ms, kind }) => kind !== "no_rep" && at_ms <= atMs).at(-1);
  const next = steps.find(({ at_ms }) => at_ms > atMs);
  if (said?.kind === "load") return say("practice.load", { load: (said.load_milli ?? 0) / 1000 });
  if (said?.kind === "change" && atMs - said.at_ms < ALOUD_MS) return say("practice.change", { member: said.member ?? 0 });
  const member = next?.member ?? said?.member;
  return member === undefined ? "" : say("practice.member", { member });
}

/**
 * The score, and the one to beat.
 *
 * @param {number} score
 * @param {number | undefined} best before; undefined: this is the first try
 */
export function scoreText(score, best) {
  if (best === undefined) return say("practice.first", { score });
  return score > best ? say("practice.better", { score, best }) : say("practice.not_better", { score, best });
}
