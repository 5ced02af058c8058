/**
 * What the pad shows, as plain data, from what it knows. Pure.
 *
 * @typedef {import("./book.js").LaneBook} LaneBook
 * @typedef {import("../formats/format.js").Moment} Moment
 *
 * @typedef {object} Known
 * @property {LaneBook} book
 * @property {number} lane
 * @property {number} waiting how many facts wait for the table
 * @property {number} waitingMs since when without an answer
 * @property {boolean} durable
 * @property {"lane" | "backup"} role
 * @property {boolean} kept the page opens again without the network
 * @property {{up: boolean, forMs: number}} link
 * @property {"live" | "rehearsal"} mode
 * @property {number | undefined} clockMs
 * @property {number} [aheadMs] until a start that was announced
 * @property {string} [barred] why this page may not count at all
 * @property {any} [chosen] what the judge chose for the next press, in the way of the format
 * @property {number} [member] teams: for whom a touch counts, as chosen on this pad; missing: all of them
 *
 * @typedef {object} PadView
 * @property {string} lane
 * @property {string} name
 * @property {string} floor empty: there is one
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
 * @property {string} surface `tap`, `block`, `measure`, `start`, `locked`, or one that the format has of its own
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

import { factWords, formatOf, resultText } from "../formats/registry.js";
import { clockText, clockTextTenths, countdownText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { PATIENCE_MS } from "../shared/outbox.js";
import { isComplete, scored } from "../shared/plan.js";

/** A link that is away for so long is worth an offer to start without it. */
const ALONE_MS = 3000;

/** @type {Record<string, string>} */
const FACT_NAMES = {
  block_completed: say("pad.sent_block"),
  no_rep_called: say("pad.sent_no_rep"),
  finished: say("pad.sent_finish"),
  withdrawn: say("pad.sent_withdrawal"),
  exchanged: say("pad.sent_exchange"),
};

/** @type {Record<string, string>} */
const OUT_WORDS = { withdrawn: say("pad.out_withdrawn"), did_not_start: say("pad.out_did_not_start"), disqualified: say("pad.out_disqualified") };

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
    clock: timeText(known),
    undo: known.barred || !book.undoable ? "" : entryName(book.undoable),
    noReps: String(book.count?.no_reps ?? 0),
    ...proofView(known),
  };
}

/** @param {Pick<Known, "clockMs" | "aheadMs">} known */
function timeText({ clockMs, aheadMs }) {
  if (aheadMs !== undefined) return countdownText(aheadMs);
  return clockMs === undefined ? "–:––" : clockText(clockMs);
}

/**
 * Name what was sent, as a judge would: "rep 62", "no-rep".
 *
 * @param {import("./book.js").Entry} entry
 * @returns {string}
 */
export function entryName(entry) {
  return FACT_NAMES[entry.fact] ?? factWords(entry.fact)?.name ?? say("pad.sent_rep", { number: entry.number });
}

/** @param {Known} known */
function headView({ book, lane, mode, role }) {
  const { frame, laneData } = book;
  return {
    lane: String(lane),
    floor: frame?.heat.floor?.name ?? "",
    name: laneData?.name ?? "",
    heat: laneData?.held ? say("pad.held") : frame ? join(role === "backup" ? say("pad.backup") : "", heatText(frame)) : "",
    rehearsal: (frame?.mode ?? mode) === "rehearsal",
  };
}

/** @param {import("../shared/types.js").HeatFrame} frame */
function heatText({ event, heat }) {
  return join(event.name, heat.name, formatOf(event).remark);
}

/**
 * What the format is asked with; undefined before the table said what the lane has done.
 *
 * @param {Known} known
 * @returns {Moment | undefined}
 */
export function momentOf({ book, clockMs, chosen }) {
  const { frame, laneData, count } = book;
  if (!frame || !laneData || !count) return undefined;
  const since = formatOf(frame.event).pad.since(frame.event, clockMs ?? 0);
  return { event: frame.event, count, division: laneData.division, clockMs, chosen, finishCalled: Boolean(book.finishCall(since)) };
}

/** @param {Known} known */
function workView(known) {
  const moment = momentOf(known);
  if (!moment) return { number: "", station: "", load: "", into: "", round: "", next: "", nextWord: "", progress: 0 };
  const { pad } = formatOf(moment.event);
  return { ...pad.work(moment), round: pad.where(moment) };
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
    word: team.form === "relay" && on !== index + 1 ? say("pad.change_to", { member: index + 1 }) : say("pad.member", { member: index + 1 }),
    note: synchro ? String(scored(frame.event, count.members?.[index] ?? 0)) : on === index + 1 ? say("pad.works_now") : "",
    on: on === index + 1,
  }));
  return synchro ? [{ id: "all", word: say("pad.all_at_once"), note: "", on: on === undefined }, ...keys] : keys;
}

/**
 * What the surface does now. Every lock says its reason.
 *
 * @param {Known} known
 * @returns {Pick<PadView, "surface" | "ask" | "calm" | "noRep" | "noRepWord" | "finish" | "withdraw">}
 */
function surfaceView(known) {
  const { frame } = known.book;
  const moment = momentOf(known);
  const lock = lockReason(known);
  const noRepWord = frame ? formatOf(frame.event).pad.noRepWord : say("plain.no_rep");
  if (!lock && moment) return { ...formatOf(moment.event).pad.surface(moment), noRepWord, calm: false, withdraw: true };
  const alone = !known.barred && frame?.heat.status === "waiting" && !known.link.up && known.link.forMs >= ALONE_MS;
  return {
    surface: alone ? "start" : "locked",
    ask: alone ? say("pad.alone") : (lock?.text ?? say("pad.waiting_table")),
    calm: Boolean(lock?.calm),
    noRep: false,
    noRepWord,
    finish: false,
    withdraw: false,
  };
}

/**
 * @param {Known} known
 * @returns {{text: string, calm?: boolean} | undefined}
 */
function lockReason({ barred, book, lane, clockMs, aheadMs }) {
  const { frame, laneData, count } = book;
  if (barred) return { text: barred };
  if (!frame) return { text: say("pad.waiting_table") };
  if (!laneData || !count) return { text: say("pad.nobody", { lane }) };
  if (count.out) return { text: OUT_WORDS[laneData.status] ?? OUT_WORDS.withdrawn };
  const { pad } = formatOf(frame.event);
  if (isComplete(frame.event, pad.done(frame.event, count, clockMs))) return { text: completeText(book, clockMs), calm: true };
  if (aheadMs !== undefined) return { text: say("pad.starts_in", { seconds: Math.ceil(aheadMs / 1000) }), calm: true };
  if (clockMs === undefined) return { text: say("pad.not_started", { heat: frame.heat.name }) };
  if (frame.clock.ended_ms !== undefined || frame.heat.status === "over") return { text: say("crew.heat_over"), calm: true };
  if (pad.open(count)) return undefined;
  if (clockMs >= frame.clock.cap_ms) return { text: say("pad.time_cap", { time: clockText(frame.clock.cap_ms) }), calm: true };
  return pad.lock(frame.event, count, clockMs);
}

/**
 * All there is to do now is done: of the part in progress, or of the whole work.
 *
 * @param {LaneBook} book
 * @param {number | undefined} clockMs
 */
function completeText(book, clockMs) {
  const event = book.frame?.event;
  const own = event && formatOf(event).pad.complete(event, book.lastUnit?.at_ms, clockMs ?? 0);
  return own ?? finishText(book);
}

/**
 * The finish as the table has it, or as this pad saw it while the table does not know.
 *
 * @param {LaneBook} book
 */
function finishText({ laneData, table, count, lastUnit }) {
  if (laneData?.finish_ms !== undefined && table?.done === count?.done) return say("pad.finished_in", { result: resultText(laneData.result) });
  return lastUnit ? say("pad.finished_in", { result: clockTextTenths(lastUnit.at_ms) }) : say("pad.finished");
}

/**
 * The proof that the table has the same number, or what is missing for it.
 *
 * @param {Known} known
 * @returns {Pick<PadView, "proof" | "proofState">}
 */
function proofView({ book, waiting, waitingMs, link, durable, kept, clockMs }) {
  const { frame, table } = book;
  const number = frame && table ? say("pad.table_has", { number: formatOf(frame.event).pad.proof(frame.event, table, clockMs) }) : "";
  const late = waiting ? say("crew.waiting", { count: waiting }) : "";
  const unsafe = waiting && !durable ? say("pad.do_not_close") : !link.up && !kept && link.forMs >= ALONE_MS ? say("pad.do_not_reload") : "";
  if (!link.up) return { proof: join(say("crew.no_link", { time: clockText(link.forMs) }), number, late, unsafe), proofState: "off" };
  if (waiting && waitingMs >= PATIENCE_MS) return { proof: join(number, late, unsafe), proofState: "behind" };
  return { proof: number, proofState: waiting || !number ? "sending" : "same" };
}

/** @param {string[]} parts */
function join(...parts) {
  return parts.filter(Boolean).join(" · ");
}
