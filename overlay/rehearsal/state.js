/**
 * Where a rehearsal is, from what the server last said of it. Pure: moments are milliseconds since the show began.
 *
 * @typedef {{id: string, title: string, start_ms: number, end_ms: number, lanes: Record<string, string>}} StagedHeat
 * @typedef {{moment_ms: number, kind: string, heat: string, line: string}} StagedMoment
 * @typedef {{kind: "no_rep" | "withdrawal", heat: string, lane: number, at_ms: number}} Change
 *
 * @typedef {object} Staged what the server says
 * @property {number} at_ms
 * @property {number} length_ms
 * @property {boolean} playing
 * @property {number} speed
 * @property {StagedHeat[]} heats
 * @property {StagedMoment[]} moments
 * @property {boolean} still_looking for cues
 * @property {Change[]} changes
 * @property {{from_ms: number, to_ms: number}} [loop]
 * @property {string} [said]
 */

import { clockText, parseClock } from "../shared/format.js";
import { say } from "../shared/say.js";

/** So many moments are listed before the present one, and after it. */
const BEFORE = 4;
const AFTER = 16;

/**
 * The moment at which the rehearsal is.
 *
 * @param {Staged} staged
 * @param {number} sinceMs how long ago the server said so
 */
export function momentMs({ at_ms, length_ms, playing, speed, loop }, sinceMs) {
  const ran = at_ms + (playing ? sinceMs * speed : 0);
  if (loop && at_ms < loop.to_ms && ran >= loop.to_ms) return loop.from_ms + ((ran - loop.from_ms) % (loop.to_ms - loop.from_ms));
  return Math.min(Math.max(ran, 0), length_ms);
}

/**
 * The heat that started last at a moment; the first one before that.
 *
 * @param {StagedHeat[]} heats in the order of their starts
 * @param {number} atMs
 * @returns {StagedHeat | undefined}
 */
export function heatAt(heats, atMs) {
  return heats.filter(({ start_ms }) => start_ms <= atMs).at(-1) ?? heats[0];
}

/**
 * What the clock of the heat shows at a moment.
 *
 * @param {StagedHeat | undefined} heat
 * @param {number} atMs
 */
export function heatClockAt(heat, atMs) {
  return Math.max(0, atMs - (heat?.start_ms ?? 0));
}

/**
 * How the rehearsal goes on, in words.
 *
 * @param {Staged} staged
 * @param {number} atMs
 */
export function howText({ playing, speed, length_ms, loop, still_looking }, atMs) {
  const position = say("rehearsal.position", { at: clockText(atMs), length: clockText(length_ms) });
  const how = playing ? say("rehearsal.plays", { speed }) : say("rehearsal.stands");
  return [position, how, loop && say("rehearsal.looping"), still_looking && say("rehearsal.looking")].filter(Boolean).join(" · ");
}

/**
 * The moments round the present one. The server says each in the page's language.
 *
 * @param {Staged} staged
 * @param {number} atMs
 * @returns {{key: string, moment_ms: number, at: string, kind: string, what: string, past: boolean}[]}
 */
export function momentRows({ moments, heats }, atMs) {
  const starts = new Map(heats.map(({ id, start_ms }) => [id, start_ms]));
  const next = moments.findIndex(({ moment_ms }) => moment_ms > atMs);
  const begin = Math.max(0, (next < 0 ? moments.length : next) - BEFORE);
  return moments.slice(begin, begin + BEFORE + AFTER).map(({ moment_ms, kind, heat, line }, index) => ({
    key: `${begin + index} ${moment_ms} ${line}`,
    moment_ms,
    at: clockText(Math.max(0, moment_ms - (starts.get(heat) ?? 0))),
    kind: say(`rehearsal.kind.${kind}`),
    what: line,
    past: moment_ms <= atMs,
  }));
}

/**
 * A change that was made, in words.
 *
 * @param {Change} change
 * @param {StagedHeat[]} heats
 */
export function changeText({ kind, heat, lane, at_ms }, heats) {
  const found = heats.find(({ id }) => id === heat);
  const who = found?.lanes[String(lane)] ?? "";
  const values = { lane, time: clockText(at_ms), heat: found?.title ?? heat };
  return who ? say(`rehearsal.did_${kind}_name`, { ...values, name: who }) : say(`rehearsal.did_${kind}`, values);
}

/**
 * Read a time that somebody typed.
 *
 * @param {string} text
 * @returns {number} milliseconds
 * @throws {Error} that says what was found
 */
export function typedClock(text) {
  const read = parseClock(text.trim());
  if (read === undefined) throw new Error(say("rehearsal.bad_time", { text }));
  return read;
}
