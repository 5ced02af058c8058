/**
 * What the pad shows, as plain data, from what it knows. Pure.
 *
 * @typedef {import("./book.js").LaneBook} LaneBook
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("./counting.js").Count} Count
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
 * @property {number} [loadMilli] max load: what the judge is about to declare
 * @property {number} [member] teams: for whom a touch counts, as chosen on this pad; missing: all of them
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
 * @property {string} nextWord
 * @property {TeamKey[]} team one key a member; empty: nobody but the athlete
 * @property {number} progress of the station, 0 to 1
 * @property {"tap" | "block" | "measure" | "declare" | "lift" | "start" | "locked"} surface
 * @property {string} ask what the surface asks for, or why it is locked
 * @property {boolean} calm a good end: nothing is wrong
 * @property {string} clock
 * @property {string} undo what it would strike; empty: nothing
 * @property {boolean} noRep
 * @property {string} noRepWord
 * @property {boolean} finish
 * @property {boolean} withdraw
 * @property {string} noReps
 * @property {string} proof
 * @property {"same" | "sending" | "behind" | "off"} proofState
 *
 * @typedef {object} TeamKey
 * @property {string} id the member's number, or `all`
 * @property {string} word
 * @property {string} note
 * @property {boolean} on whose turn it is, or for whom a touch counts
 */

import { amountText, clockText, clockTextTenths, resultText } from "../shared/format.js";
import { isComplete, position, scored } from "../shared/plan.js";
import { barOf, doneAt, onLastStation, openAttempt, pieceAt } from "./counting.js";
import { attemptsText, bestLift, loadText, platesText } from "../shared/lift.js";

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
  exchanged: "exchange",
  attempt_declared: "declared load",
  attempt_made: "good lift",
  attempt_failed: "no lift",
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
    ...workView(known),
    team: teamView(known),
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

/** @param {Known} known */
function workView(known) {
  const { frame, laneData, count } = known.book;
  if (!frame || !laneData || !count) {
    return { number: "", station: "", load: "", into: "", round: "", next: "", nextWord: "", progress: 0 };
  }
  const { event } = frame;
  if (event.lifting) return liftView(event, event.lifting, count, known.loadMilli);
  const at = position(event, doneAt(event, count, known.clockMs));
  return {
    number: String(at.scored),
    station: at.leg.movement,
    load: at.leg.loads[laneData.division] ?? "",
    into:
      at.leg.credit === "block"
        ? `${amountText(at.leg.amount, at.leg.unit)} count as 1`
        : `${at.station_done} of ${amountText(at.leg.amount, at.leg.unit)}`,
    round: whereText(event, at.round, count, known.clockMs),
    next: String(at.next_mark),
    nextWord: "next",
    progress: at.station_done / at.leg.amount,
  };
}

/**
 * Name where the lane is in the work: its round, the bar and when its window closes, or the piece and when it ends.
 *
 * @param {EventData} event
 * @param {number} round
 * @param {Count} count
 * @param {number | undefined} clockMs
 */
function whereText(event, round, count, clockMs) {
  const bar = barOf(event, count.done);
  const piece = pieceAt(event, clockMs ?? 0);
  if (bar) return `bar ${bar.bar} of ${event.legs.length} · until ${clockText(bar.closes_ms)}`;
  if (piece) return `piece ${piece.number} of ${event.intervals?.piece_count} · until ${clockText(piece.end_ms)}`;
  return `round ${round}${event.laps === undefined ? "" : ` of ${event.rounds_a_lap * event.laps}`}`;
}

/**
 * A lift: the load that is declared, or that the judge is about to declare.
 *
 * @param {EventData} event
 * @param {import("../shared/types.js").LiftingData} lifting
 * @param {Count} count
 * @param {number | undefined} loadMilli
 */
function liftView(event, lifting, count, loadMilli) {
  const attempts = count.attempts ?? [];
  const shown = openAttempt(count)?.load_milli ?? loadMilli;
  const best = bestLift(attempts);
  const most = lifting.attempts_most;
  const all = most !== undefined && count.done >= most;
  return {
    number: all ? loadText(best) : shown === undefined ? "" : loadText(shown),
    station: event.legs[0].movement,
    load: "",
    into: attemptsText(attempts),
    round: `attempt ${all ? count.done : count.done + 1}${most === undefined ? "" : ` of ${most}`} · ${lifting.load_unit}`,
    next: best ? loadText(best) : "–",
    nextWord: "best",
    progress: 0,
  };
}

/**
 * The keys of a team: whose turn it is in a relay, who does the work that a touch counts in the others.
 *
 * @param {Known} known
 * @returns {TeamKey[]}
 */
function teamView({ book, member, barred }) {
  const { frame, count } = book;
  const team = frame?.event.team;
  if (!frame || !team || !count || barred || count.out) return [];
  const synchro = team.form === "synchro";
  const on = team.form === "relay" ? (count.member ?? 1) : (member ?? (synchro ? undefined : 1));
  const keys = Array.from({ length: team.size }, (_, index) => ({
    id: String(index + 1),
    word: team.form === "relay" && on !== index + 1 ? `Change to ${index + 1}` : `Member ${index + 1}`,
    note: synchro ? String(scored(frame.event, count.members?.[index] ?? 0)) : on === index + 1 ? "works now" : "",
    on: on === index + 1,
  }));
  return synchro ? [{ id: "all", word: "All at once", note: "", on: on === undefined }, ...keys] : keys;
}

/**
 * What the surface does now. Every lock says its reason.
 *
 * @param {Known} known
 * @returns {Pick<PadView, "surface" | "ask" | "calm" | "noRep" | "noRepWord" | "finish" | "withdraw">}
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
      noRepWord: frame?.event.lifting ? "No lift" : "No-rep",
      finish: false,
      withdraw: false,
    };
  }
  if (frame.event.lifting) return liftSurface(frame.event.lifting, count, known.loadMilli);
  const done = doneAt(frame.event, count, known.clockMs);
  const { leg } = position(frame.event, done);
  const since = pieceAt(frame.event, known.clockMs ?? 0)?.start_ms;
  const finish = onLastStation(frame.event, done) && !known.book.finishCall(since);
  const open = { calm: false, noRep: true, noRepWord: "No-rep", finish, withdraw: true };
  if (leg.credit === "block") return { ...open, surface: "block", ask: "Hold when the block is done" };
  // Metres, calories and seconds are read off a machine; nobody taps each.
  if (leg.unit !== "reps") return { ...open, surface: "measure", ask: "Hold when the station is done" };
  return { ...open, surface: "tap", ask: "" };
}

/**
 * A lift is declared, then judged. Both are held: each is worth a lot.
 *
 * @param {import("../shared/types.js").LiftingData} lifting
 * @param {Count} count
 * @param {number | undefined} loadMilli
 * @returns {Pick<PadView, "surface" | "ask" | "calm" | "noRep" | "noRepWord" | "finish" | "withdraw">}
 */
function liftSurface(lifting, count, loadMilli) {
  const open = openAttempt(count);
  const keys = { calm: false, noRep: open !== undefined, noRepWord: "No lift", finish: false, withdraw: true };
  if (open) return { ...keys, surface: "lift", ask: "Hold for a good lift" };
  if (loadMilli === undefined) return { ...keys, surface: "locked", ask: "Waiting for the table" };
  const plates = platesText(lifting, loadMilli) ?? "No plates make that load";
  return { ...keys, surface: "declare", ask: `Hold to declare ${loadText(loadMilli)} ${lifting.load_unit}\n${plates}` };
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
  if (count.out) return { text: OUT_WORDS[laneData.status] ?? OUT_WORDS.withdrawn };
  if (isComplete(frame.event, doneAt(frame.event, count, clockMs))) return { text: completeText(book, clockMs), calm: true };
  if (clockMs === undefined) return { text: `${frame.heat.name} has not started` };
  if (frame.clock.ended_ms !== undefined || frame.heat.status === "over") return { text: "The heat is over", calm: true };
  // A lift that was declared in time may be judged after it.
  if (openAttempt(count)) return undefined;
  if (clockMs >= frame.clock.cap_ms) return { text: `Time cap ${clockText(frame.clock.cap_ms)}`, calm: true };
  return windowLock(frame.event, count, clockMs);
}

/**
 * Between pieces nothing counts, and who has not completed a bar in its window is out.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {number} clockMs
 * @returns {{text: string, calm?: boolean} | undefined}
 */
function windowLock(event, count, clockMs) {
  const piece = pieceAt(event, clockMs);
  const bar = barOf(event, count.done);
  if (piece && !piece.open && clockMs > piece.end_ms) return { text: "All pieces are done", calm: true };
  if (piece && !piece.open) return { text: `Rest. Piece ${piece.number} starts at ${clockText(piece.start_ms)}`, calm: true };
  if (bar && clockMs > bar.closes_ms) return { text: `Out: the window of bar ${bar.bar} closed at ${clockText(bar.closes_ms)}`, calm: true };
  return undefined;
}

/**
 * All there is to do is done: of a piece, of the lifts, or of the whole work.
 *
 * @param {LaneBook} book
 * @param {number | undefined} clockMs
 */
function completeText(book, clockMs) {
  const event = book.frame?.event;
  const piece = event && pieceAt(event, clockMs ?? 0);
  if (event?.lifting) return "All attempts are taken";
  if (!piece || !book.lastUnit) return finishText(book);
  const tookMs = book.lastUnit.at_ms - piece.start_ms;
  return `Piece ${piece.number} done in ${clockTextTenths(Math.max(0, tookMs))}`;
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
function proofView({ book, waiting, waitingMs, link, durable, clockMs }) {
  const { frame, table } = book;
  const number = frame && table ? `table ${tableText(frame.event, table, clockMs)}` : "";
  const late = waiting ? `${waiting} waiting` : "";
  const unsafe = waiting && !durable ? "do not close this page" : "";
  if (!link.up) return { proof: join(`no link ${clockText(link.forMs)}`, number, late, unsafe), proofState: "off" };
  if (waiting && waitingMs >= PATIENCE_MS) return { proof: join(number, late, unsafe), proofState: "behind" };
  return { proof: number, proofState: waiting || !number ? "sending" : "same" };
}

/**
 * @param {EventData} event
 * @param {Count} table
 * @param {number | undefined} clockMs
 */
function tableText(event, table, clockMs) {
  if (event.lifting) return attemptsText(table.attempts ?? []) || "no attempt";
  return String(scored(event, doneAt(event, table, clockMs)));
}

/** @param {string[]} parts */
function join(...parts) {
  return parts.filter(Boolean).join(" · ");
}
