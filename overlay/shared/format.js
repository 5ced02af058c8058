/** Numbers as people read them. Times are integer milliseconds and are cut, never rounded up: a clock must not run ahead. */

import { figures, language, ordinal, say } from "./say.js";

const TO_THE_MINUTE = /** @type {const} */ ({ hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
const TO_THE_SECOND = /** @type {const} */ ({ ...TO_THE_MINUTE, second: "2-digit" });

/**
 * Write a time of the day as 14:05, or to the second. The browser's rules for times are asked for no earlier than this is:
 * the first time costs a page as it opens a tenth of what it may take.
 *
 * @param {Date | number} when a number is Unix milliseconds
 * @param {boolean} [toTheSecond]
 * @returns {string}
 */
export function dayClockText(when, toTheSecond = false) {
  return new Date(when).toLocaleTimeString(language, toTheSecond ? TO_THE_SECOND : TO_THE_MINUTE);
}

/**
 * Write a time as m:ss, or h:mm:ss from one hour on: 702318 → 11:42.
 *
 * @param {number} ms
 * @returns {string}
 */
export function clockText(ms) {
  const seconds = Math.floor(Math.max(0, ms) / 1000);
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  const tail = String(seconds % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${tail}` : `${minutes}:${tail}`;
}

/**
 * Write how long it is until a start, which is at 0:00 and not a second before: 6001 → −0:07.
 *
 * @param {number} ms
 * @returns {string}
 */
export function countdownText(ms) {
  return figures(`−${clockText(ms + 999)}`);
}

/**
 * Write a time with one decimal: 702318 → 11:42.3.
 *
 * @param {number} ms
 * @returns {string}
 */
export function clockTextTenths(ms) {
  return figures(`${clockText(ms)}.${Math.floor((Math.max(0, ms) % 1000) / 100)}`);
}

/**
 * Write a place as a figure, one way everywhere: 3, or =3 where it is shared.
 *
 * @param {{place: number, shared?: boolean}} standing
 * @returns {string}
 */
export function placeFigure({ place, shared }) {
  return shared ? figures(`=${place}`) : String(place);
}

/**
 * Write a place that stands among words: 3rd, or =3 where it is shared.
 *
 * @param {{place: number, shared?: boolean}} standing
 * @returns {string}
 */
export function placeOrdinal({ place, shared }) {
  return shared ? placeFigure({ place, shared }) : ordinal(place);
}

/**
 * Write how many scored reps a lane trails by: 12 → −12; nothing for the leader.
 *
 * @param {number} reps
 * @returns {string}
 */
export function repsBehindText(reps) {
  return reps > 0 ? figures(`−${reps}`) : "";
}

/**
 * Write how far back in time: 3420 → +3.4 s, 75000 → +1:15.0.
 *
 * @param {number} ms
 * @returns {string}
 */
export function timeBehindText(ms) {
  return figures(`${ms < 0 ? "−" : "+"}${secondsText(Math.abs(ms))}`);
}

/**
 * Write how long something took: 3420 → 3.4 s, 75000 → 1:15.0. What is too short for a tenth has its thousandths.
 *
 * @param {number} ms
 * @returns {string}
 */
export function secondsText(ms) {
  if (ms >= 60_000) return clockTextTenths(ms);
  if (ms > 0 && ms < 100) return figures(say("shared.second_unit", { time: `0.${String(ms).padStart(3, "0")}` }));
  return figures(say("shared.second_unit", { time: `${Math.floor(ms / 1000)}.${Math.floor((ms % 1000) / 100)}` }));
}

/**
 * Write a count with its unit (reps, metres, calories, seconds): 1 rep, 10 reps.
 *
 * @param {number} amount
 * @param {string} unit
 * @returns {string}
 */
export function amountText(amount, unit) {
  return UNITS.includes(unit) ? say(`shared.${unit}`, { n: amount }) : `${amount} ${unit}`;
}

/** Those that the catalogues know. */
const UNITS = ["reps", "metres", "calories", "seconds", "attempts", "points"];

/**
 * Write a load as the language does: 102.5 kg.
 *
 * @param {string} load as a frame has it
 * @returns {string}
 */
export function loadWords(load) {
  const [, amount, unit] = /^([\d.]+) (kg|lb)$/.exec(load) ?? [];
  return amount ? `${figures(amount)} ${say(`shared.${unit}`)}` : load;
}

/**
 * Set a name apart in a line of text, so that one that reads from right to left does not turn the words around it
 * (first strong isolate … pop directional isolate, Unicode Standard Annex 9).
 *
 * @param {string} name
 * @returns {string}
 */
export function isolate(name) {
  return `\u2068${name}\u2069`;
}

/**
 * Read a time as people write it: m:ss, m:ss.mmm, h:mm:ss. Undefined for anything else.
 *
 * @param {string} text
 * @returns {number | undefined} milliseconds
 */
export function parseClock(text) {
  const match = /^(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)(?:[.,](\d{1,3}))?$/.exec(text.trim());
  if (!match || (match[1] && Number(match[2]) > 59)) return undefined;
  const [hours, minutes, seconds] = [Number(match[1] ?? 0), Number(match[2]), Number(match[3])];
  return ((hours * 60 + minutes) * 60 + seconds) * 1000 + Number((match[4] ?? "").padEnd(3, "0"));
}
