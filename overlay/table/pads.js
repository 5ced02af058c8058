/**
 * What the table says of the devices that count on a lane. Pure.
 *
 * @typedef {import("../shared/types.js").LanePads} LanePads
 * @typedef {import("../shared/types.js").PadDevice} PadDevice
 */

import { clockText } from "../shared/format.js";

const LOW_BATTERY = 20;
/** Further off than this a phone's touches cannot tell close finishes apart. */
const COARSE_MS = 100;
/** Facts that wait so many at a time are not on their way: the link is slow, or only half there. */
const MANY_WAIT = 3;
const BACKUP = "backup";

/** @type {Record<string, string>} */
const ALARMS = { double: "double touches", too_fast: "too fast to be true" };

/**
 * What of a lane's devices needs a look, in few words; empty: nothing does.
 *
 * @param {LanePads | undefined} pads missing: no device joined since the server started
 * @param {number} scored what the lane has
 * @returns {string}
 */
export function padFlags(pads, scored) {
  if (!pads) return "";
  const mains = pads.devices.filter(({ role }) => role !== BACKUP);
  const there = mains.filter(({ up }) => up);
  return [
    mains.length ? (there.length ? "" : "waiting for the pad") : "no pad yet",
    pads.two ? `${there.length} pads on this lane` : "",
    pads.disagree ? `counters differ: ${scored}, backup ${pads.backup}` : "",
    ...there.flatMap(deviceFlags),
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {PadDevice} device */
function deviceFlags({ waiting = 0, held = 0, battery = 100, error_ms = 0, alarms = [] }) {
  return [
    waiting + held >= MANY_WAIT ? `${waiting + held} waiting` : "",
    battery <= LOW_BATTERY ? `battery ${battery} %` : "",
    error_ms > COARSE_MS ? `clock ±${error_ms} ms` : "",
    ...alarms.map((name) => ALARMS[name] ?? name),
  ];
}

/**
 * Everything that is known of a lane's devices, a line for each.
 *
 * @param {LanePads | undefined} pads
 * @param {number} unixMs the server's wall time
 * @returns {string[]}
 */
export function padLines(pads, unixMs) {
  if (!pads) return [];
  return pads.devices.length ? pads.devices.map((device) => deviceLine(device, unixMs)) : ["No pad of this lane has joined"];
}

/**
 * @param {PadDevice} device
 * @param {number} unixMs
 */
function deviceLine({ sender, role, up, since_unix_ms, last_unix_ms, waiting, held, battery, error_ms, ahead_ms, alarms = [] }, unixMs) {
  const parts = [
    `${up ? "connected" : "gone"} for ${clockText(Math.max(0, unixMs - since_unix_ms))}`,
    last_unix_ms === undefined ? "no touch yet" : `last touch ${clockText(Math.max(0, unixMs - last_unix_ms))} ago`,
    waiting ? `${waiting} waiting` : "",
    held ? `${held} held for the clock` : "",
    battery === undefined ? "" : `battery ${battery} %`,
    error_ms === undefined ? "" : `times within ${error_ms} ms`,
    ahead_ms === undefined ? "" : `its clock ${offsetWords(ahead_ms)}`,
    ...alarms.map((name) => ALARMS[name] ?? name),
  ];
  return `${role === BACKUP ? "Backup" : "Pad"} ${sender}: ${parts.filter(Boolean).join(" · ")}`;
}

/** @param {number} aheadMs */
function offsetWords(aheadMs) {
  const seconds = (Math.abs(aheadMs) / 1000).toFixed(1);
  return seconds === "0.0" ? "right" : `${seconds} s ${aheadMs > 0 ? "ahead" : "behind"}`;
}
