/**
 * One lane's count as its judge should see it: what the table has, plus what waits in the queue. It uses no clock, no
 * network and no DOM: times and messages come in as arguments.
 * @typedef {import("../shared/types.js").FactData} FactData
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").Acknowledged} Acknowledged
 * @typedef {import("../shared/types.js").TallyData} TallyData
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../formats/format.js").Count} Count
 *
 * @typedef {object} Added what an entry of the history has beside the fact
 * @property {number} delta units that it added
 * @property {number} number scored reps with it counted
 * @property {number} [member] of a team, who did it
 * @property {string} [start] by whose clock its time was told
 * @property {Partial<Count>} [before] what stood before it, which undo brings back
 * @typedef {import("../shared/history.js").Sent & Added} Entry
 *
 * @typedef {{from: number, to: number}} Correction scored reps: what we had, and what the table made of it
 */

import { factWords } from "../formats/registry.js";
import { added, countOf, ownDone, sameWork, withFact } from "./counting.js";
import { scored } from "../shared/plan.js";

/** A frame may have left the server before its last answer to us. This long after that answer, no such frame can come
 * any more. */
const SETTLED_MS = 700;
/** The most units that one fact may count (docs/wire.md). */
const MOST_UNITS = 1000;

export class LaneBook {
  #queue;
  #history;
  #lane;
  #makeId;
  #onCorrection;
  #start;
  /** @type {HeatFrame | undefined} */
  #frame;
  /** @type {Count | undefined} */
  #table;
  /** False: the frame that gave the count may or may not hold what was waiting then. */
  #sure = false;
  /** Whether the newest frame is from before the present connection. */
  #old = false;
  /** Whether it came after the last answer. Where the link breaks in between, the answer is what the table has. */
  #fresh = true;
  #answeredAtMs = -Infinity;

  /**
   * @param {object} options
   * @param {import("../shared/queue.js").Queue} options.queue
   * @param {import("../shared/history.js").History<Entry>} options.history
   * @param {number} options.lane
   * @param {() => string} options.makeId
   * @param {(correction: Correction) => void} [options.onCorrection] the table's number is not what we sent
   * @param {string} [options.start] the start by whose clock touches are told
   */
  constructor({ queue, history, lane, makeId, onCorrection = () => {}, start }) {
    this.#start = start;
    this.#queue = queue;
    this.#history = history;
    this.#lane = lane;
    this.#makeId = makeId;
    this.#onCorrection = onCorrection;
  }

  /**
   * The same book over copies of its queue and history: changing one does not change the other.
   *
   * @param {Pick<ConstructorParameters<typeof LaneBook>[0], "queue" | "history" | "makeId" | "onCorrection" | "start">} options
   */
  copy(options) {
    const made = new LaneBook({ ...options, lane: this.#lane });
    made.#frame = this.#frame;
    made.#table = this.#table;
    made.#sure = this.#sure;
    made.#old = this.#old;
    made.#fresh = this.#fresh;
    made.#answeredAtMs = this.#answeredAtMs;
    return made;
  }

  /** The newest frame. */
  get frame() {
    return this.#frame;
  }

  /** This lane in the newest frame; undefined when nobody is on it. */
  get laneData() {
    return this.#frame?.lanes[this.#lane];
  }

  /** What the table has counted; undefined until the table has said so. */
  get table() {
    return this.#table;
  }

  /** What the judge has counted: the table's count and what waits. */
  get count() {
    return this.#table && this.#fold(this.#table, this.#queue.waiting);
  }

  /** The fact that "undo" would strike. */
  get undoable() {
    return this.#frame && this.#history.last(this.#frame.heat.id);
  }

  /**
   * The finish that this pad called, if it still stands.
   *
   * @param {number} [sinceMs] when what is counted now began
   */
  finishCall(sinceMs = 0) {
    const called = (/** @type {Entry} */ { fact, at_ms }) => fact === "finished" && at_ms >= sinceMs;
    return this.#frame && this.#history.last(this.#frame.heat.id, called);
  }

  /** When the last unit that this pad counted was. */
  get lastUnit() {
    return this.#frame && this.#history.last(this.#frame.heat.id, (entry) => entry.delta > 0);
  }

  /**
   * @param {HeatFrame} frame
   * @param {number} nowMs
   */
  takeFrame(frame, nowMs) {
    if (frame.heat.id !== this.#frame?.heat.id) this.#table = undefined;
    this.#frame = frame;
    this.#old = false;
    this.#fresh = true;
    const { recalled = [] } = frame;
    if (recalled.length) this.#history.forget(({ start }) => start !== undefined && recalled.includes(start));
    this.settle(nowMs);
  }

  /**
   * Believe the newest frame if it can't be older than what the table already answered. Called with every frame and
   * now and then.
   *
   * @param {number} nowMs
   */
  settle(nowMs) {
    const lane = this.laneData;
    if (!lane) return;
    const idle = !this.#queue.waiting.length;
    const quiet = idle && !this.#old && this.#fresh && nowMs - this.#answeredAtMs >= SETTLED_MS;
    if (!this.#table) this.#sure = idle;
    if (!this.#table || quiet) this.#believe(lane);
  }

  /**
   * A connection begins; the server has everything up to the watermark.
   *
   * @param {number} watermark
   * @param {number} nowMs
   */
  welcome(watermark, nowMs) {
    this.#advance(() => this.#queue.welcome(watermark), []);
    this.#answeredAtMs = nowMs;
    this.#fresh = false;
    this.#old = true;
  }

  /**
   * @param {Acknowledged} message
   * @param {number} nowMs
   */
  acknowledge({ watermark, refused, tally }, nowMs) {
    const numbers = refused.map((refusal) => refusal.sequence);
    const lost = this.#queue.waiting.filter((fact) => numbers.includes(fact.sequence)).map((fact) => fact.id);
    const overtaken = watermark <= this.#queue.watermark;
    this.#advance(() => this.#queue.acknowledge(watermark), lost);
    this.#history.forget((entry) => lost.includes(entry.id));
    this.#answeredAtMs = nowMs;
    this.#fresh = false;
    // One that a later answer overtook counts fewer touches than the table has.
    if (overtaken || tally?.heat !== this.#frame?.heat.id || !tally) return;
    this.#believe(tally);
    this.#sure = true;
  }

  /**
   * Count so many units of the station.
   *
   * @param {number} atMs heat clock
   * @param {number} [units]
   * @param {number} [member] of a team, who did it; missing: the one whose turn it is, or all of them
   */
  countUnits(atMs, units = 1, member = undefined) {
    for (let left = units; left > 0; left -= MOST_UNITS) {
      this.#record("rep_counted", atMs, { n: Math.min(left, MOST_UNITS), ...(member && { member }) });
    }
  }

  /**
   * @param {number} atMs heat clock
   * @param {number} [member]
   */
  completeBlock(atMs, member = undefined) {
    this.#record("block_completed", atMs, { ...(member && { member }) });
  }

  /**
   * The work passes to a member of the relay.
   *
   * @param {number} atMs heat clock
   * @param {number} member
   */
  exchange(atMs, member) {
    if (this.count && this.count.member !== member) this.#record("exchanged", atMs, { member });
  }

  /**
   * Make a fact that belongs to the format of the event, or that needs nothing more.
   *
   * @param {number} atMs heat clock
   * @param {import("../formats/format.js").PadFact} made
   */
  make(atMs, { fact, ...more }) {
    this.#record(fact, atMs, more);
  }

  /**
   * Say why the last no-rep was called. A fact never changes, so the call is struck and made again, with its reason.
   *
   * @param {string} reason
   */
  explainNoRep(reason) {
    const call = this.undoable;
    if (call?.fact !== "no_rep_called") return;
    this.#strike(call, call.at_ms, "reason added");
    this.#record("no_rep_called", call.at_ms, { reason });
  }

  /**
   * @param {number} atMs heat clock
   * @param {string} reason
   */
  withdraw(atMs, reason) {
    this.#record("withdrawn", atMs, reason ? { reason } : {});
  }

  /**
   * Strike the last fact of this pad that still stands.
   *
   * @param {number} atMs heat clock
   * @returns {Entry | undefined} what was struck
   */
  undo(atMs) {
    const entry = this.undoable;
    if (entry) this.#strike(entry, atMs, "undo");
    return entry;
  }

  /**
   * @param {string} kind
   * @param {number} atMs
   * @param {{n?: number, reason?: string, member?: number, load_milli?: number}} more
   */
  #record(kind, atMs, more) {
    if (!this.#frame || !this.count) return;
    const { event, heat } = this.#frame;
    const before = this.count;
    const id = this.#makeId();
    const at_ms = this.#inOrder(atMs);
    // A withdrawal stands though the start was false.
    const start = this.#start === undefined || kind === "withdrawn" ? {} : { start: this.#start };
    this.#queue.add({ fact: kind, id, heat: heat.id, lane: this.#lane, at_ms, ...start, ...more });
    const after = this.count;
    const made = { delta: added(event, before, after), number: scored(event, ownDone(event, after, more.member)), member: more.member };
    this.#history.add({ id, fact: kind, heat: heat.id, at_ms, ...start, ...made, before: restored(kind, before) });
  }

  /**
   * @param {Entry} entry
   * @param {number} atMs
   * @param {string} reason
   */
  #strike(entry, atMs, reason) {
    const { id: voids, heat } = entry;
    const fact = { fact: "fact_voided", id: this.#makeId(), heat, lane: this.#lane, voids, reason };
    this.#queue.add({ ...fact, at_ms: this.#inOrder(atMs) });
    this.#history.markVoided(voids);
  }

  /**
   * The table reads facts in the order of the heat clock, so the times of ours must not go back when the clock is
   * corrected. After a restart it begins anew.
   * @param {number} atMs
   */
  #inOrder(atMs) {
    return Math.max(0, Math.round(atMs), this.#history.lastAtMs(this.#frame?.heat.id ?? "", this.#start));
  }

  /**
   * Let the queue move on, and add the facts that left it to the table's count.
   *
   * @param {() => void} move
   * @param {string[]} lost ids of facts that were refused
   */
  #advance(move, lost) {
    const before = this.#queue.waiting;
    move();
    const waits = new Set([...this.#queue.waiting.map((fact) => fact.id), ...lost]);
    const taken = before.filter((fact) => !waits.has(fact.id));
    if (this.#table) this.#table = this.#fold(this.#table, taken);
  }

  /** @param {LaneData | TallyData} counted */
  #believe(counted) {
    if (!this.#frame) return;
    const before = this.#table;
    this.#table = countOf(this.#frame.event, counted);
    if (!before || !this.#sure || sameWork(this.#frame.event, before, this.#table)) return;
    const { event } = this.#frame;
    const waits = new Set(this.#queue.waiting.map((fact) => fact.id));
    // The table set the count, so striking a unit that it had counted before would not change anything any more.
    this.#history.forget((entry) => entry.delta > 0 && !waits.has(entry.id));
    this.#onCorrection({ from: scored(event, before.done), to: scored(event, counted.done) });
  }

  /**
   * @param {Count} start
   * @param {readonly FactData[]} facts
   * @returns {Count}
   */
  #fold(start, facts) {
    const { event, heat } = /** @type {HeatFrame} */ (this.#frame);
    return facts
      .filter((fact) => fact.heat === heat.id)
      .reduce((count, fact) => withFact(event, count, fact, this.#history.find(fact.voids ?? "")), start);
  }
}

/**
 * What undo has to restore of a turn, or of a format's own fields; undefined where taking the units off is enough.
 *
 * @param {string} kind
 * @param {Count} before
 * @returns {Partial<Count> | undefined}
 */
function restored(kind, before) {
  const fields = kind === "exchanged" ? ["member"] : factWords(kind)?.restores;
  return fields && Object.fromEntries(fields.map((field) => [field, before[field]]));
}
