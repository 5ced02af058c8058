/**
 * The timetable as pages say it: what is next, and how late the day runs. Pure.
 *
 * @typedef {object} DayHeat
 * @property {string} id
 * @property {string} name
 * @property {string} [event]
 * @property {string} [title] event and heat
 * @property {string} [floor] the id of its floor, of several
 * @property {"waiting" | "running" | "over"} [status]
 * @property {number} [start_unix_ms] by the timetable
 * @property {number} [started_unix_ms]
 */

import { dayClockText } from "./format.js";
import { say } from "./say.js";

/** Further apart than this, two heats are on two days, and the lateness of the first says nothing of the second (common
 * practice, no source). */
const ONE_DAY_MS = 8 * 3_600_000;
const MINUTE_MS = 60_000;

/**
 * By how much the day runs late: as the heat that started last was, or by what the next one is overdue.
 *
 * @param {readonly DayHeat[]} heats
 * @param {number} nowMs Unix milliseconds
 * @returns {number | undefined} milliseconds, negative when early; undefined: nobody can know
 */
export function lateMs(heats, nowMs) {
  const next = upcoming(heats)[0]?.start_unix_ms;
  const started = heats.filter((heat) => heat.started_unix_ms !== undefined && heat.start_unix_ms !== undefined);
  const last = started.sort((one, other) => (one.started_unix_ms ?? 0) - (other.started_unix_ms ?? 0)).at(-1);
  const near = (/** @type {number} */ one, /** @type {number} */ other) => Math.abs(one - other) < ONE_DAY_MS;
  const planned = last?.start_unix_ms ?? 0;
  const same = last && near(next ?? nowMs, planned) && near(last.started_unix_ms ?? 0, planned);
  const was = same ? (last.started_unix_ms ?? 0) - planned : undefined;
  const overdue = next !== undefined && nowMs > next && near(nowMs, next) ? nowMs - next : undefined;
  return overdue === undefined ? was : Math.max(was ?? overdue, overdue);
}

/**
 * @param {number | undefined} ms
 * @returns {string} empty: nothing is known
 */
export function lateText(ms) {
  if (ms === undefined) return "";
  const minutes = Math.trunc(ms / MINUTE_MS);
  if (!minutes) return say("shared.on_time");
  return minutes > 0 ? say("shared.late", { n: minutes }) : say("shared.early", { n: -minutes });
}

/**
 * The heats that have not started, in their order.
 *
 * @param {readonly DayHeat[]} heats
 */
export function upcoming(heats) {
  return heats.filter(({ status }) => status === "waiting");
}

/**
 * The heats of one floor: each of several floors has a timetable of its own.
 *
 * @param {readonly DayHeat[]} heats
 * @param {string} [floor] its id; missing: there is one floor
 */
export function onFloor(heats, floor) {
  return heats.filter((heat) => heat.floor === floor);
}

/**
 * The heats of several floors by their time; one without a time stays behind the heat before it on its floor.
 *
 * @param {readonly (readonly DayHeat[])[]} floors
 */
export function inTime(floors) {
  const timed = floors.flatMap((heats) => {
    let last = -Infinity;
    return heats.map((heat) => ({ heat, at: (last = heat.start_unix_ms ?? last) }));
  });
  return timed.sort((one, other) => one.at - other.at || 0).map(({ heat }) => heat);
}

/**
 * A heat with its time in the timetable.
 *
 * @param {DayHeat} heat
 * @returns {string}
 */
export function heatText({ title, name, start_unix_ms }) {
  return [start_unix_ms === undefined ? "" : dayClockText(start_unix_ms), title ?? name].filter(Boolean).join(" ");
}

/**
 * How late the day is and what is next, in one line.
 *
 * @param {readonly DayHeat[]} heats
 * @param {number} nowMs
 * @param {number} most how many heats are named
 * @returns {string}
 */
export function dayText(heats, nowMs, most) {
  const next = upcoming(heats).slice(0, most).map(heatText);
  return [lateText(lateMs(heats, nowMs)), next.length ? say("shared.next_heats", { heats: next.join(", ") }) : ""].filter(Boolean).join(" · ");
}
