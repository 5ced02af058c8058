/**
 * What the practice page says. Pure.
 *
 * @typedef {import("./marking.js").Mark} Mark
 * @typedef {import("./work.js").Step} Step
 */

import { amountText } from "../shared/format.js";
import { median } from "./marking.js";

/** How long a practice lasts: minutes, or the whole heat. @type {[string, string][]} */
export const LENGTHS = [["2", "2 minutes"], ["5", "5 minutes"], ["all", "the whole heat"]];
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
  /** @type {[string, string, boolean, boolean][]} */
  const all = [
    ["counted", `${counted} of ${due}`, counted !== due, true],
    ["missed", String(missed), true, missed > 0],
    ["counted twice", String(doubled), true, doubled > 0],
    ["counted for nothing", String(extra), true, extra > 0],
    ["late", String(late), true, late > 0],
    ["how late", lagText(lags_ms), false, lags_ms.length > 0],
    ["no-reps called", `${called} of ${no_reps}`, called !== no_reps, no_reps > 0],
    ["no-reps counted as reps", String(let_through), true, let_through > 0],
    ["good reps refused", String(refused), true, refused > 0],
    ["loads and turns", `${others - wrong} of ${others}`, wrong > 0, others > 0],
  ];
  return all.filter(([, , , says]) => says).map(([label, text, bad]) => [label, text, bad]);
}

/** @param {readonly number[]} lags */
function lagText(lags) {
  return `usually ${seconds(median(lags) ?? 0)}, at worst ${seconds(Math.max(...lags))}`;
}

/** @param {number} ms */
function seconds(ms) {
  return `${ms < 0 ? "−" : ""}${(Math.abs(ms) / 1000).toFixed(2)} s`;
}

/**
 * What the athlete is at.
 *
 * @param {readonly Step[]} steps
 * @param {number} atMs
 */
export function stationText(steps, atMs) {
  const step = steps.find(({ at_ms }) => at_ms > atMs) ?? steps.at(-1);
  return step ? `${step.leg.movement} · ${amountText(step.leg.amount, step.leg.unit)}` : "";
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
  if (said?.kind === "load") return `“${(said.load_milli ?? 0) / 1000}!”`;
  if (said?.kind === "change" && atMs - said.at_ms < ALOUD_MS) return `“Change to ${said.member}!”`;
  const member = next?.member ?? said?.member;
  return member === undefined ? "" : `Number ${member}`;
}

/**
 * The score, and the one to beat.
 *
 * @param {number} score
 * @param {number | undefined} best before; undefined: this is the first try
 */
export function scoreText(score, best) {
  if (best === undefined) return `${score} of 100: the score to beat`;
  return score > best ? `${score} of 100: better than ${best}, the new score to beat` : `${score} of 100 · to beat: ${best}`;
}
