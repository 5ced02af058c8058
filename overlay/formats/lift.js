/**
 * A lift as the pad speaks of it: the load to declare, the plates for it, and what was lifted so far. Pure.
 *
 * @typedef {{load_milli: number, made?: boolean}} Attempt a lift; not yet judged without `made`
 *
 * @typedef {object} LiftingData loads in thousandths of `load_unit`
 * @property {"kg" | "lb"} load_unit
 * @property {number} bar_milli
 * @property {number} collar_milli
 * @property {number[]} plates_milli
 * @property {number} [attempts_most] missing: as many as time allows
 */

import { figures, say } from "../shared/say.js";

/** The steps of a load, in multiples of the smallest change that the plates allow. */
const STEPS = [-5, -1, 1, 5, 25];

/**
 * A load as announced: 102.5.
 *
 * @param {number} loadMilli
 */
export function loadText(loadMilli) {
  return figures(String(loadMilli / 1000));
}

/**
 * The smallest change of a load: the lightest plate on both sides.
 *
 * @param {LiftingData} lifting
 */
function smallestStep({ plates_milli }) {
  return 2 * Math.min(...plates_milli);
}

/**
 * What the pad offers before anybody says otherwise: the empty bar, the same again after a miss, a step more after a
 * good lift.
 *
 * @param {LiftingData} lifting
 * @param {readonly Attempt[]} attempts
 */
export function nextLoad(lifting, attempts) {
  const last = attempts[attempts.length - 1];
  if (!last) return lifting.bar_milli + 2 * lifting.collar_milli;
  return last.made ? last.load_milli + smallestStep(lifting) : last.load_milli;
}

/**
 * The changes of the load that one touch makes, such as −5, −1, +1, +5, +25.
 *
 * @param {LiftingData} lifting
 * @returns {string[]}
 */
export function loadSteps(lifting) {
  return STEPS.map((step) => `${step < 0 ? "−" : "+"}${(Math.abs(step) * smallestStep(lifting)) / 1000}`);
}

/**
 * The load after one of those changes, never below the empty bar.
 *
 * @param {LiftingData} lifting
 * @param {number} loadMilli
 * @param {string} step
 */
export function stepped(lifting, loadMilli, step) {
  const change = Math.round(Number(step.replace("−", "-")) * 1000);
  return Math.max(lifting.bar_milli, loadMilli + change);
}

/**
 * Say which plates go on each side; undefined when the load cannot be made. The bar alone may go without collars.
 *
 * @param {LiftingData} lifting
 * @param {number} loadMilli
 * @returns {string | undefined}
 */
export function platesText({ bar_milli, collar_milli, plates_milli }, loadMilli) {
  if (loadMilli === bar_milli) return say("max_load.bar_alone");
  const side = (loadMilli - bar_milli - 2 * collar_milli) / 2;
  const plates = side < 0 || side % 1 ? undefined : fewest(side, [...plates_milli].sort((a, b) => b - a));
  if (!plates) return undefined;
  return plates.length ? say("max_load.a_side", { plates: plates.map(loadText).join(" + ") }) : say("max_load.bar_collars");
}

/**
 * The heaviest first; where that gets stuck, fewer of the heaviest: the same as tallywire.core.loads.
 *
 * @param {number} left
 * @param {readonly number[]} plates
 * @returns {number[] | undefined}
 */
function fewest(left, plates) {
  if (left === 0) return [];
  if (!plates.length || left % plates.reduce(gcd)) return undefined;
  const [heaviest, ...lighter] = plates;
  for (let count = Math.floor(left / heaviest); count >= 0; count -= 1) {
    const rest = fewest(left - count * heaviest, lighter);
    if (rest) return [...Array(count).fill(heaviest), ...rest];
  }
  return undefined;
}

/**
 * @param {number} one
 * @param {number} other
 * @returns {number}
 */
function gcd(one, other) {
  return other ? gcd(other, one % other) : one;
}

/**
 * What was lifted so far: 92 ✓ 96 ✗.
 *
 * @param {readonly Attempt[]} attempts
 */
export function attemptsText(attempts) {
  return attempts.map(({ load_milli, made }) => `${loadText(load_milli)} ${made === undefined ? "…" : made ? "✓" : "✗"}`).join("  ");
}

/**
 * The heaviest good lift, in thousandths; 0 without one.
 *
 * @param {readonly Attempt[]} attempts
 */
export function bestLift(attempts) {
  return Math.max(0, ...attempts.filter(({ made }) => made).map(({ load_milli }) => load_milli));
}
