/**
 * What the pad shows, as plain data, from what it knows. Pure.
 *
 * @typedef {import("./book.js").LaneBook} LaneBook
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Known
 * @property {LaneBook} book
 * @property {number} lane
 * @property {number} waiting how many facts wait for the table
 * @property {number} waitingMs since when without an answer
 * @property {boolean} durable
 * @property {{up: boolean, forMs: number}} link
 * @property {"live" | "rehearsal"} mode
 * @property {number | undefined} clockMs
 * @property {string} [barred] why this page may not count at all
 *
 * @typedef {object} PadView
 * @property {string} lane
 * @property {string} name
 * @property {string} heat
 * @property {boolean} rehearsal
 * @property {string} number the cumulative number; empty when unknown
 * @property {string} station
 * @property {string} load
 * @property {string} into
 * @property {string} round
 * @property {string} next
 * @property {number} progress of the station, 0 to 1
 * @property {"tap" | "block" | "measure" | "start" | "locked"} surface
 * @property {string} ask what the surface asks for, or why it is locked
 * @property {boolean} calm a good end: nothing is wrong
 * @property {string} clock
 * @property {string} undo what it would strike; empty: nothing
 * @property {boolean} noRep
 * @property {boolean} finish
 * @property {boolean} withdraw
 * @property {string} noReps
 * @property {string} proof
 * @property {"same" | "sending" | "behind" | "off"} proofState
 */

import { amountText, clockText, clockTextTenths, resultText } from "../shared/format.js";
import { isComplete, position, scored } from "../shared/plan.js";
import { onLastStation } from "./book.js";

/** An answer usually takes a few hundredths of a second; the judge hears of waiting only when it takes longer. */
const PATIENCE_MS = 1000;
/** A link that is away for so long is worth an offer to start without it. */
const ALONE_MS = 3000;

/** @type {Record<string, string>} */
const FACT_NAMES = {
  block_completed: "block",
  no_rep_called: "no-rep",
  finished: "finish call",
  withdrawn: "withdrawal",
};

/** @type {Record<string, string>} */
const OUT_WORDS = { withdrawn: "Withdrawn", did_not_start: "Did not start", disqualified: "Disqualified" };

/**
 * @param {Known} known
 * @returns {PadView}
 */
export function padView(known) {
  const { book } = known;
  return {
    ...headView(known),
    ...workView(book),
    ...surfaceView(known),
    clock: known.clockMs === undefined ? "–:––" : clockText(known.clockMs),
    undo: known.barred || !book.undoable ? "" : entryName(book.undoable),
    noReps: String(book.count?.no_reps ?? 0),
    ...proofView(known),
  };
}

/**
 * Name what was sent, as a judge would: "rep 44", "no-rep".
 *
 * @param {import("./book.js").Entry} entry
 * @returns {string}
 */
export function entryName(entry) {
  return FACT_NAMES[entry.fact] ?? `rep ${entry.number}`;
}

/** @param {Known} known */
function headView({ book, lane, mode }) {
  const { frame, laneData } = book;
  return {
    lane: String(lane),
    name: laneData?.name ?? "",
    heat: laneData?.held ? "Medical hold: off the air" : frame ? `${frame.event.name} · ${frame.heat.name}` : "",
    rehearsal: (frame?.mode ?? mode) === "rehearsal",
  };
}

/** @param {LaneBook} book */
function workView({ frame, laneData, count }) {
  if (!frame || !laneData || !count) {
    return { number: "", station: "", load: "", into: "", round: "", next: "", progress: 0 };
  }
  const { event } = frame;
  const at = position(event, count.done);
  const rounds = event.laps === undefined ? "" : ` of ${event.rounds_a_lap * event.laps}`;
  return {
    number: String(at.scored),
    station: at.leg.movement,
    load: at.leg.loads[laneData.division] ?? "",
    into:
      at.leg.credit === "block"
        ? `${amountText(at.leg.amount, at.leg.unit)} count as 1`
        : `${at.station_done} of ${amountText(at.leg.amount, at.leg.unit)}`,
    round: `round ${at.round}${rounds}`,
    next: String(at.next_mark),
    progress: at.station_done / at.leg.amount,
  };
}

/**
 * What the surface does now. Every lock says its reason.
 *
 * @param {Known} known
 * @returns {Pick<PadView, "surface" | "ask" | "calm" | "noRep" | "finish" | "withdraw">}
 */
function surfaceView(known) {
  const { frame, count } = known.book;
  const lock = lockReason(known);
  if (lock || !frame || !count) {
    const alone = !known.barred && frame?.heat.status === "waiting" && !known.link.up && known.link.forMs >= ALONE_MS;
    const stopped = Boolean(lock?.calm);
    return {
      surface: alone ? "start" : "locked",
      ask: alone ? "No link to the table. Hold when the heat starts" : (lock?.text ?? "Waiting for the table"),
      calm: stopped,
      noRep: false,
      finish: false,
      withdraw: false,
    };
  }
  const { leg } = position(frame.event, count.done);
  const finish = onLastStation(frame.event, count.done) && !known.book.finishCall;
  const open = { calm: false, noRep: true, finish, withdraw: true };
  if (leg.credit === "block") return { ...open, surface: "block", ask: "Hold when the block is done" };
  // Metres, calories and seconds are read off a machine; nobody taps each.
  if (leg.unit !== "reps") return { ...open, surface: "measure", ask: "Hold when the station is done" };
  return { ...open, surface: "tap", ask: "" };
}

/**
 * @param {Known} known
 * @returns {{text: string, calm?: boolean} | undefined}
 */
function lockReason({ barred, book, lane, clockMs }) {
  const { frame, laneData, count } = book;
  if (barred) return { text: barred };
  if (!frame) return { text: "Waiting for the table" };
  if (!laneData || !count) return { text: `Nobody is on lane ${lane} in this heat` };
  if (frame.event.format === "max_load") return { text: "Lifts are judged at the table", calm: true };
  if (count.out) return { text: OUT_WORDS[laneData.status] ?? OUT_WORDS.withdrawn };
  if (isComplete(frame.event, count.done)) return { text: finishText(book), calm: true };
  if (clockMs === undefined) return { text: `${frame.heat.name} has not started` };
  if (frame.clock.ended_ms !== undefined || frame.heat.status === "over") return { text: "The heat is over", calm: true };
  if (clockMs >= frame.clock.cap_ms) return { text: `Time cap ${clockText(frame.clock.cap_ms)}`, calm: true };
  return undefined;
}

/**
 * The finish as the table has it, or as this pad saw it while the table does not know.
 *
 * @param {LaneBook} book
 */
function finishText({ laneData, table, count, lastUnit }) {
  if (laneData?.finish_ms !== undefined && table?.done === count?.done) return `Finished ${resultText(laneData, 1)}`;
  return lastUnit ? `Finished ${clockTextTenths(lastUnit.at_ms)}` : "Finished";
}

/**
 * The proof that the table has the same number, or what is missing for it.
 *
 * @param {Known} known
 * @returns {Pick<PadView, "proof" | "proofState">}
 */
function proofView({ book, waiting, waitingMs, link, durable }) {
  const { frame, table } = book;
  const number = frame && table ? `table ${scored(frame.event, table.done)}` : "";
  const late = waiting ? `${waiting} waiting` : "";
  const unsafe = waiting && !durable ? "do not close this page" : "";
  if (!link.up) return { proof: join(`no link ${clockText(link.forMs)}`, number, late, unsafe), proofState: "off" };
  if (waiting && waitingMs >= PATIENCE_MS) return { proof: join(number, late, unsafe), proofState: "behind" };
  return { proof: number, proofState: waiting || !number ? "sending" : "same" };
}

/** @param {string[]} parts */
function join(...parts) {
  return parts.filter(Boolean).join(" · ");
}
