/**
 * What the table says of the devices that count on a lane. Pure.
 *
 * @typedef {import("../shared/types.js").LanePads} LanePads
 * @typedef {import("../shared/types.js").PadDevice} PadDevice
 */

import { clockText } from "../shared/format.js";
import { figures, say } from "../shared/say.js";

const LOW_BATTERY = 20;
/** Further off than this a phone's touches cannot tell close finishes apart. */
const COARSE_MS = 100;
/** Facts that wait so many at a time are not on their way: the link is slow, or only half there. */
const MANY_WAIT = 3;
const BACKUP = "backup";

/** @type {Record<string, string>} */
const ALARMS = { double: say("table.pad_double"), too_fast: say("table.pad_too_fast") };

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
    there.length || pads.counted_by ? "" : mains.length ? say("table.pad_waiting") : say("table.pad_none"),
    pads.two ? say("table.pad_two", { count: there.length }) : "",
    pads.disagree ? say("table.pad_differ", { count: scored, backup: pads.backup ?? "" }) : "",
    ...there.flatMap(deviceFlags),
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {PadDevice} device */
function deviceFlags({ waiting = 0, held = 0, battery = 100, error_ms = 0, alarms = [] }) {
  return [
    waiting + held >= MANY_WAIT ? say("crew.waiting", { count: waiting + held }) : "",
    battery <= LOW_BATTERY ? say("table.pad_battery", { level: battery }) : "",
    error_ms > COARSE_MS ? say("table.pad_clock", { ms: error_ms }) : "",
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
  const other = pads.counted_by ? [pads.counted_by === "table" ? say("table.pad_by_keys") : say("table.pad_by_machine")] : [];
  const lines = [...other, ...pads.devices.map((device) => deviceLine(device, unixMs))];
  return lines.length ? lines : [say("table.pad_never")];
}

/**
 * @param {PadDevice} device
 * @param {number} unixMs
 */
function deviceLine({ sender, role, up, since_unix_ms, last_unix_ms, waiting, held, battery, error_ms, ahead_ms, alarms = [] }, unixMs) {
  const parts = [
    say(up ? "table.pad_connected" : "table.pad_gone", { time: clockText(Math.max(0, unixMs - since_unix_ms)) }),
    last_unix_ms === undefined ? say("table.pad_no_touch") : say("table.pad_last_touch", { time: clockText(Math.max(0, unixMs - last_unix_ms)) }),
    waiting ? say("crew.waiting", { count: waiting }) : "",
    held ? say("table.pad_held", { count: held }) : "",
    battery === undefined ? "" : say("table.pad_battery", { level: battery }),
    error_ms === undefined ? "" : say("table.pad_within", { ms: error_ms }),
    ahead_ms === undefined ? "" : offsetWords(ahead_ms),
    ...alarms.map((name) => ALARMS[name] ?? name),
  ];
  const told = parts.filter(Boolean).join(" · ");
  return role === BACKUP ? say("table.pad_backup", { sender, told }) : say("table.pad_main", { sender, told });
}

/** @param {number} aheadMs */
function offsetWords(aheadMs) {
  const seconds = (Math.abs(aheadMs) / 1000).toFixed(1);
  if (seconds === "0.0") return say("table.pad_clock_right");
  return say(aheadMs > 0 ? "table.pad_clock_ahead" : "table.pad_clock_behind", { seconds: figures(seconds) });
}
