/**
 * Intervals: the same piece of work several times, each in a window of its own, with a rest between two.
 *
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./format.js").Count} Count
 *
 * @typedef {object} IntervalsData
 * @property {number} piece_count
 * @property {number} work_ms
 * @property {number} rest_ms
 * @property {"sum" | "slowest" | "best"} counts
 * @property {boolean} timed
 *
 * @typedef {object} Piece a window, as of a time on the clock
 * @property {number} number from 1
 * @property {boolean} open its window is open
 * @property {number} start_ms of this window, or in a rest of the next
 * @property {number} end_ms
 */

import { clockText, clockTextTenths } from "../shared/format.js";
import { scored } from "../shared/plan.js";
import { ordinal, say } from "../shared/say.js";
import { makeFormat, ownField, padSurface, padWork, PLAIN, repsText } from "./plain.js";

/**
 * @param {EventData} event
 * @returns {IntervalsData}
 */
function rulesOf(event) {
  return ownField(event, "intervals");
}

/**
 * The piece in progress; in a rest the one that comes; after the last window the last one, closed.
 *
 * @param {EventData} event
 * @param {number} atMs heat clock
 * @returns {Piece}
 */
function pieceAt(event, atMs) {
  const { piece_count, work_ms, rest_ms } = rulesOf(event);
  const last = piece_count - 1;
  const turn = Math.min(last, Math.floor(Math.max(0, atMs) / (work_ms + rest_ms)));
  const open = atMs <= turn * (work_ms + rest_ms) + work_ms;
  const index = open ? turn : Math.min(last, turn + 1);
  const start_ms = index * (work_ms + rest_ms);
  return { number: index + 1, open, start_ms, end_ms: start_ms + work_ms };
}

/**
 * Units done of the piece in progress or to come.
 *
 * @param {EventData} event
 * @param {Count} count
 * @param {number | undefined} clockMs
 */
function doneAt(event, { pieces, done }, clockMs) {
  return pieces ? (pieces[pieceAt(event, clockMs ?? 0).number - 1] ?? 0) : done;
}

/**
 * @param {EventData} event
 * @param {Count} count
 * @param {number} atMs
 * @param {(done: number) => number} change
 * @returns {Count}
 */
function worked(event, count, atMs, change) {
  const piece = pieceAt(event, atMs);
  if (!piece.open) return count;
  const before = /** @type {number[]} */ (count.pieces ?? []);
  const pieces = before.map((done, index) => (index + 1 === piece.number ? change(done) : done));
  return { ...count, pieces, done: pieces[piece.number - 1] ?? 0 };
}

/**
 * @param {{number: number, reps: number, ms?: number}} piece
 */
function pieceText({ number, reps, ms }) {
  return say("intervals.piece_result", { piece: ordinal(number), result: ms === undefined ? repsText(reps) : clockTextTenths(ms) });
}

export const INTERVALS = makeFormat({
  title: say("intervals.title"),
  onePass: false, // every piece begins at round one again, and only the newest has splits
  where(event, lane) {
    const { piece_count: count, work_ms: work, rest_ms: rest } = rulesOf(event);
    return say("intervals.piece_of", { piece: Math.min(count, Math.floor((lane?.reached_ms ?? 0) / (work + rest)) + 1), pieces: count });
  },
  pad: {
    fields: ["pieces"],
    worked,
    gains: ({ pieces: before }, { pieces: after }) => (after ?? []).map((/** @type {number} */ units, /** @type {number} */ at) => units - (before?.[at] ?? 0)),
    done: doneAt,
    since: (event, clockMs) => pieceAt(event, clockMs).start_ms,
    where({ event, clockMs }) {
      const piece = pieceAt(event, clockMs ?? 0);
      return say("intervals.until", { piece: piece.number, pieces: rulesOf(event).piece_count, time: clockText(piece.end_ms) });
    },
    work: (moment) => padWork(moment, doneAt(moment.event, moment.count, moment.clockMs)),
    surface: (moment) => padSurface(moment, doneAt(moment.event, moment.count, moment.clockMs)),
    lock(event, _, clockMs) {
      const piece = pieceAt(event, clockMs);
      if (piece.open) return undefined;
      if (clockMs > piece.end_ms) return { text: say("intervals.all_done"), calm: true };
      return { text: say("intervals.rest", { piece: piece.number, time: clockText(piece.start_ms) }), calm: true };
    },
    complete(event, lastUnitMs, clockMs) {
      const piece = pieceAt(event, clockMs);
      if (lastUnitMs === undefined) return undefined;
      return say("intervals.done_in", { piece: piece.number, time: clockTextTenths(Math.max(0, lastUnitMs - piece.start_ms)) });
    },
    proof: (event, table, clockMs) => String(scored(event, doneAt(event, table, clockMs))),
  },
  call: {
    ends: (event, outlook) => [[ownField(outlook, "total_ms"), clockText], ...PLAIN.call.ends(event, outlook)],
    facts: (lane) => [[say("intervals.pieces"), (ownField(lane, "piece_list") ?? []).map(pieceText).join(" · ")]],
  },
  table: {
    own: (lane) => say("intervals.of_lane", { units: (ownField(lane, "pieces") ?? []).join(", ") }),
    since(event, { reached_ms }, clockMs) {
      const { work_ms, rest_ms } = rulesOf(event);
      const into = clockMs % (work_ms + rest_ms);
      return into > work_ms ? undefined : Math.max(0, Math.min(into, clockMs - reached_ms));
    },
  },
});
