/** How far behind in time, as the gap feed and the call write it: a lane, and the numbers themselves. Pure. */

import { dayClockText, timeBehindText } from "../shared/format.js";
import { say } from "../shared/say.js";

/**
 * Seconds behind and how sure they are: +4.3 s; +4.3 s* at the last mark; ≥4.3 s this much and growing.
 *
 * @param {{ms?: number, precision?: string} | undefined} gap
 */
export function behindText(gap) {
  if (gap?.ms === undefined) return "";
  const text = timeBehindText(gap.ms);
  if (gap.precision === "at_last_mark") return `${text}*`;
  return gap.precision === "at_least" ? text.replace("+", "≥") : text;
}

/**
 * What the link says while it is lost: from when the numbers are.
 *
 * @param {Date | undefined} heardAt
 */
export function lostText(heardAt) {
  return heardAt ? say("commentary.last_numbers", { time: dayClockText(heardAt, true) }) : say("commentary.reconnecting");
}

/**
 * What the link says while it is up: how old the call is where the server is late with a new one.
 *
 * @param {number | undefined} oldMs
 */
export function linkText(oldMs) {
  return oldMs === undefined ? say("shared.connected") : say("commentary.call_old", { seconds: Math.round(oldMs / 1000) });
}
