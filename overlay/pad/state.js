/**
 * What the lane pad remembers, and what can be read from it at an instant. Pure: see reducer.js for how it changes.
 *
 * @typedef {"lane" | "backup"} Role the backup counter is a second judge's, held against the first one's
 * @typedef {import("./book.js").Entry} Entry
 * @typedef {import("../shared/outbox.js").Outbox<Entry>} PadOutbox
 *
 * @typedef {object} PadState never changed in place: the reducer makes a new one
 * @property {number} lane
 * @property {Role} role
 * @property {string} name of the outbox and the sender, such as `lane-4`, or `lane-4-east` on one of several floors
 * @property {PadOutbox} outbox
 * @property {LaneBook} book
 * @property {{up: boolean, since: number}} link
 * @property {"live" | "rehearsal"} mode
 * @property {number} speed
 * @property {string} fault why this device will not keep what is counted; empty: it will
 * @property {boolean} kept the page opens again without the network
 * @property {string} barred why this page may not count at all; empty: it may
 * @property {number | undefined} startedHere the server's wall time when the judge started alone
 * @property {{text: string, until: number}} message
 * @property {number} reasonsUntil so long the reasons of a no-rep are offered
 * @property {any} chosen what the judge chose for the next press, in the way of the format; undefined: what is usual
 * @property {string} member as chosen on this phone: the heat's id and a member's number, or `all`
 * @property {string} hand `left` or `right`
 * @property {number} touchedAtMs when a touch last counted, on a clock that never goes back
 *
 * @typedef {Time & Lots} Instant when an event happened, and what is drawn by lot for it
 *
 * @typedef {object} Time
 * @property {number} nowMs the device's wall time
 * @property {number} serverMs the server's wall time as far as the page knows it
 * @property {number} tickMs a clock that never goes back
 * @property {number} [uncertainMs] how far off `serverMs` can be
 * @property {string} [start] the id of the start by whose clock the heat is told
 *
 * @typedef {object} Lots
 * @property {string} id nobody else has; facts that the event makes are named by it
 * @property {string} sender a sender name that was never used before
 */

import { formatOf } from "../formats/registry.js";
import { heatClockMs } from "../shared/clock.js";
import { FLOOR, isFloor } from "../shared/floor.js";
import { Outbox } from "../shared/outbox.js";
import { say } from "../shared/say.js";
import { LaneBook } from "./book.js";
import { momentOf, padView } from "./view.js";

/** Why a repetition did not count, in the words judges use. */
const REASONS = [say("pad.reason_range"), say("pad.reason_lock_out"), say("pad.reason_start"), say("pad.reason_control"), say("pad.reason_line")];

/**
 * Where a pad's page remembers what it was told on this phone.
 *
 * @param {string} name
 */
export function storedAt(name) {
  return { member: `tallywire.${name}.member`, hand: "tallywire.hand", seen: `tallywire.${name}.seen` };
}

/**
 * What is said of a device that will not keep what is counted.
 *
 * @param {string} fault empty: it will
 */
export function storeWords(fault) {
  return fault && say("pad.another_phone", { fault });
}

/**
 * What the table last showed on this phone, and by how much the server's clock was ahead of the phone's wall time: the
 * pad opens with it while there is no network. Nothing is stamped by it.
 *
 * @param {import("../shared/queue.js").StoragePort} storage
 * @param {string} name
 * @param {string} heat that the page stays with, or a floor's
 * @returns {{frame?: import("../shared/types.js").HeatFrame, apartMs?: number}}
 */
export function lastSeen(storage, name, heat) {
  try {
    const seen = JSON.parse(storage.getItem(storedAt(name).seen) ?? "{}");
    return isFloor(heat) || heat === seen.frame?.heat.id ? seen : {};
  } catch {
    return {}; // a torn write
  }
}

/**
 * The name of a pad's outbox, and the beginning of its senders' names.
 *
 * @param {number} lane
 * @param {Role} role
 * @param {string} floor empty: there is one floor
 */
export function nameOf(lane, role, floor) {
  return [role, lane, floor].filter((each) => each !== "").join("-");
}

/**
 * The pad as it opens: what this device still has, and nothing from the table yet.
 *
 * @param {object} options
 * @param {number} options.lane
 * @param {import("../shared/queue.js").StoragePort} options.storage
 * @param {Role} [options.role]
 * @param {string} [options.floor] one of several, which the lane is on
 * @param {string} [options.heat] that the page stays with, or a floor's
 * @param {string} [options.fault] why the storage will not keep what is counted
 * @param {Instant} instant
 * @returns {PadState}
 */
export function openPad({ lane, storage, role = "lane", floor = "", heat = FLOOR, fault = "" }, { nowMs, sender, id }) {
  const name = nameOf(lane, role, floor);
  const outbox = /** @type {PadOutbox} */ (Outbox.open({ storage, name, makeSender: () => sender, nowMs }));
  const { queue, history } = outbox;
  if (fault) queue.notKept();
  const book = new LaneBook({ queue, history, lane, makeId: () => id });
  const { frame } = lastSeen(storage, name, heat);
  if (frame) book.takeFrame(frame, nowMs);
  return {
    fault,
    kept: false,
    role,
    lane,
    name,
    outbox,
    book,
    link: { up: false, since: nowMs },
    mode: "live",
    speed: 1,
    barred: lane >= 1 ? "" : say("pad.no_lane"),
    startedHere: undefined,
    message: { text: storeWords(fault), until: Infinity },
    reasonsUntil: 0,
    chosen: undefined,
    member: storage.getItem(storedAt(name).member) ?? "",
    hand: storage.getItem(storedAt(name).hand) ?? "right",
    touchedAtMs: -Infinity,
  };
}

/**
 * The heat clock; undefined before the start.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "serverMs">} instant
 */
export function clockMs({ book, startedHere, speed: usual }, { serverMs }) {
  if (!book.frame) return undefined;
  const { clock, speed } = book.frame;
  const alone = clock.zero_unix_ms === undefined && startedHere !== undefined;
  const known = alone ? { ...clock, zero_unix_ms: startedHere, zero_at_ms: 0 } : clock;
  if (aheadMs({ book }, { serverMs }) !== undefined) return undefined;
  return heatClockMs(known, speed ?? usual, serverMs);
}

/**
 * How long it is until a start that was announced; undefined: none is to come.
 *
 * @param {Pick<PadState, "book">} state
 * @param {Pick<Instant, "serverMs">} instant
 */
function aheadMs({ book }, { serverMs }) {
  const { zero_unix_ms: zero, zero_at_ms: at } = book.frame?.clock ?? {};
  return zero !== undefined && !at && serverMs < zero ? zero - serverMs : undefined;
}

/**
 * Teams that share the work: for whom a touch counts, as chosen on this phone.
 *
 * @param {PadState} state
 * @returns {number | undefined} undefined: all of them, or in turn
 */
export function memberOf({ book, member }) {
  const team = book.frame?.event.team;
  const [heatId, id] = member.split(" ");
  const chosen = heatId === book.frame?.heat.id ? Number(id) : 0;
  if (!team || team.form === "relay") return undefined;
  if (chosen >= 1 && chosen <= team.size) return chosen;
  return team.form === "shared" ? 1 : undefined;
}

/**
 * What the pad knows at an instant, as its view asks for it.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs" | "serverMs">} instant
 * @returns {import("./view.js").Known}
 */
function knownAt(state, instant) {
  const { outbox, book, lane, role, link, mode, barred, chosen, kept } = state;
  return {
    kept,
    book,
    lane,
    role,
    waiting: outbox.count,
    waitingMs: outbox.waitedMs(instant.nowMs),
    durable: outbox.queue.durable,
    link: { up: link.up, forMs: instant.nowMs - link.since },
    mode,
    clockMs: clockMs(state, instant),
    aheadMs: aheadMs(state, instant),
    barred,
    chosen,
    member: memberOf(state),
  };
}

/**
 * What the pad shows at an instant.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs" | "serverMs">} instant
 */
export function viewAt(state, instant) {
  return padView(knownAt(state, instant));
}

/**
 * What the format is asked with at an instant; undefined: the table said nothing yet.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs" | "serverMs">} instant
 */
export function momentAt(state, instant) {
  return momentOf(knownAt(state, instant));
}

/**
 * What the second tap may choose now: why the no-rep was called, or what the format offers beside the surface.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs" | "serverMs">} instant
 * @param {string} surface what it is now
 * @returns {string[]}
 */
function choicesAt(state, instant, surface) {
  if (mayExplain(state, instant)) return REASONS;
  const moment = momentAt(state, instant);
  return moment ? formatOf(moment.event).pad.choices(moment, surface) : [];
}

/**
 * All that the screen shows at an instant; the view is worked out once for it.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs" | "serverMs">} instant
 */
export function shownAt(state, instant) {
  const view = viewAt(state, instant);
  return { view, message: messageAt(state, instant), choices: choicesAt(state, instant, view.surface), hand: state.hand };
}

/**
 * The last fact is a no-rep whose reason may still be said.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs">} instant
 */
export function mayExplain({ reasonsUntil, book }, { nowMs }) {
  return reasonsUntil > nowMs && book.undoable?.fact === "no_rep_called";
}

/**
 * What is said at the foot of the pad.
 *
 * @param {PadState} state
 * @param {Pick<Instant, "nowMs">} instant
 */
function messageAt({ message }, { nowMs }) {
  return message.until > nowMs ? message.text : "";
}
