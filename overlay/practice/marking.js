/**
 * What a judge made of a lane, held against what happened there, station by station. Pure.
 *
 * @typedef {import("./work.js").Step} Step
 * @typedef {import("./work.js").Kind} Kind
 *
 * @typedef {object} Mark of a station, or of all
 * @property {number} due what was to be counted: reps, blocks, ends of stations, lifts
 * @property {number} counted
 * @property {number} missed of what was due
 * @property {number} doubled counted again
 * @property {number} extra counted where nothing was
 * @property {number} late counted, but late
 * @property {number[]} lags_ms how late each was that was counted; negative: early
 * @property {number} no_reps that there were
 * @property {number} called of them
 * @property {number} let_through of them, counted as reps
 * @property {number} refused no-reps called where there was none
 * @property {number} others changes of turn, loads and members that were due
 * @property {number} wrong of them, missed or not the right one
 *
 * @typedef {Mark & {title: string, where: string, from_ms: number}} StationMark
 * @typedef {{stations: StationMark[], all: Mark, score: number}} Marked score: 0 to 100
 * @typedef {{pairs: {due: Step, tap: Step}[], waiting: Step[], idle: Step[]}} Paired what was due and its tap; what had none; taps for nothing
 */

import { dueOf, ENDING_MS, isMeasured, stepsOf, tapsOf } from "./work.js";
import { matched } from "./matching.js";

/** Later than this is late: about twice what anybody takes to answer to what they see (common practice, no source). */
export const LATE_MS = 600;
/** A tap so near to a moment that has its own is the same one, counted again. */
const DOUBLE_MS = 1000;
/** @type {Record<Kind, import("./matching.js").Window>} */
const WINDOWS = {
  rep: { early_ms: 500, late_ms: 3000 },
  no_rep: { early_ms: 500, late_ms: 3000 },
  change: { early_ms: 1500, late_ms: 6000 },
  load: { early_ms: 0, late_ms: 60_000 },
};

/** @returns {Mark} */
function nothing() {
  return { due: 0, counted: 0, missed: 0, doubled: 0, extra: 0, late: 0, lags_ms: [], no_reps: 0, called: 0, let_through: 0, refused: 0, others: 0, wrong: 0 };
}

/**
 * @param {object} practised
 * @param {import("./work.js").EventData} practised.event
 * @param {import("./work.js").LaneData} practised.lane before the start
 * @param {readonly import("./work.js").Done[]} practised.truth
 * @param {readonly import("./work.js").Done[]} practised.facts that the judge made and let stand, in order
 * @param {number} practised.until_ms when the practice ended
 * @returns {Marked}
 */
export function mark({ event, lane, truth, facts, until_ms }) {
  // Of a team that works in step one judge may count all, or one of them.
  const member = event.team?.form === "synchro" ? facts.findLast((each) => each.member !== undefined)?.member : undefined;
  const due = dueOf(stepsOf(event, lane, truth.filter(({ at_ms }) => at_ms <= until_ms), member));
  const taps = tapsOf(stepsOf(event, lane, facts, member));
  const marking = new Marking(due, taps, until_ms);
  return marking.give();
}

class Marking {
  #due;
  #taps;
  #until;
  /** @type {StationMark[]} */
  #stations = [];
  /** @type {Map<string, StationMark>} */
  #of = new Map();

  /**
   * @param {Step[]} due
   * @param {Step[]} taps
   * @param {number} until
   */
  constructor(due, taps, until) {
    this.#due = due;
    this.#taps = taps;
    this.#until = until;
    due.forEach(({ visit, leg, where }, index) => {
      if (this.#of.has(visit)) return;
      const station = { ...nothing(), title: leg.movement, where, from_ms: index ? due[index - 1].at_ms : 0 };
      this.#stations.push(station);
      this.#of.set(visit, station);
    });
  }

  /** @returns {Marked} */
  give() {
    const [reps, noReps] = [this.#pair("rep", "rep"), this.#pair("no_rep", "no_rep")];
    const through = this.#pair("no_rep", "rep", noReps.waiting, reps.idle);
    this.#reps(reps, through.idle);
    this.#noReps(noReps, through);
    this.#others("change", (due, tap) => due.member === tap.member);
    this.#others("load", (due, tap) => due.load_milli === tap.load_milli);
    const all = this.#stations.reduce(added, nothing());
    return { stations: this.#stations, all, score: scoreOf(all) };
  }

  /**
   * @param {Kind} kind of what was due
   * @param {Kind} tapped
   * @param {Step[]} [due]
   * @param {Step[]} [taps]
   * @returns {Paired}
   */
  #pair(kind, tapped, due = this.#due.filter((each) => each.kind === kind), taps = this.#taps.filter((each) => each.kind === tapped)) {
    const at = (/** @type {Step} */ { at_ms }) => at_ms;
    const pairs = matched(due.map(at), taps.map(at), WINDOWS[kind]).map(([moment, tap]) => ({ due: due[moment], tap: taps[tap] }));
    const [had, used] = [new Set(pairs.map((each) => each.due)), new Set(pairs.map((each) => each.tap))];
    const waiting = due.filter((each) => !had.has(each) && each.lasting && each.at_ms <= this.#until - ENDING_MS);
    return { pairs, waiting, idle: taps.filter((each) => !used.has(each)) };
  }

  /**
   * @param {Paired} paired
   * @param {Step[]} idle taps that no no-rep explains
   */
  #reps({ pairs, waiting }, idle) {
    for (const { due, tap } of pairs) {
      const station = this.#at(due);
      const lag = tap.at_ms - due.at_ms;
      station.due += 1;
      station.counted += 1;
      station.lags_ms.push(lag);
      station.late += lag > LATE_MS ? 1 : 0;
      if (due.member !== undefined && tap.member !== undefined) this.#checked(station, due.member === tap.member);
    }
    for (const due of waiting) {
      const station = this.#at(due);
      station.due += 1;
      station.missed += 1;
    }
    // Who reads a machine may count on the way to its end; where nobody came to the end, nothing was due.
    for (const tap of idle.filter(({ leg, into }) => !isMeasured(leg) || into >= leg.amount)) {
      const station = this.#when(tap.at_ms);
      const again = pairs.some(({ due }) => Math.abs(tap.at_ms - due.at_ms) <= DOUBLE_MS);
      station.counted += 1;
      station[again ? "doubled" : "extra"] += 1;
    }
  }

  /**
   * @param {Paired} paired
   * @param {Paired} through no-reps that were counted
   */
  #noReps({ pairs, idle }, through) {
    for (const { due } of pairs) this.#at(due).called += 1;
    for (const { due } of through.pairs) {
      const station = this.#at(due);
      station.let_through += 1;
      station.counted += 1;
    }
    for (const due of [...pairs, ...through.pairs].map((each) => each.due).concat(through.waiting)) this.#at(due).no_reps += 1;
    for (const tap of idle) this.#when(tap.at_ms).refused += 1;
  }

  /**
   * @param {Kind} kind
   * @param {(due: Step, tap: Step) => boolean} right
   */
  #others(kind, right) {
    const { pairs, waiting } = this.#pair(kind, kind);
    for (const { due, tap } of pairs) this.#checked(this.#at(due), right(due, tap));
    for (const due of waiting) this.#checked(this.#at(due), false);
  }

  /**
   * @param {Mark} station
   * @param {boolean} right
   */
  #checked(station, right) {
    station.others += 1;
    station.wrong += right ? 0 : 1;
  }

  /** @param {Step} due */
  #at({ visit }) {
    return /** @type {StationMark} */ (this.#of.get(visit));
  }

  /**
   * The station at which the athlete is at a time.
   *
   * @param {number} atMs
   */
  #when(atMs) {
    return this.#stations.findLast(({ from_ms }) => from_ms <= atMs) ?? this.#stations[0] ?? nothing();
  }
}

/**
 * @param {Mark} sum
 * @param {Mark} station
 * @returns {Mark}
 */
function added(sum, station) {
  const numbers = Object.entries(sum).filter(([, value]) => typeof value === "number");
  const both = numbers.map(([name, value]) => [name, value + /** @type {any} */ (station)[name]]);
  return { ...Object.fromEntries(both), lags_ms: [...sum.lags_ms, ...station.lags_ms] };
}

/**
 * Points of a hundred: one for all that was due and is right, half of one for what came late or was the wrong one, and
 * one off for each tap too many.
 *
 * @param {Mark} all
 */
function scoreOf({ due, counted, missed, doubled, extra, late, no_reps, called, let_through, refused, others, wrong }) {
  const most = due + no_reps + others;
  const right = counted - doubled - extra - let_through - late / 2 + called + others - wrong / 2;
  const points = right - doubled - extra - let_through - refused;
  return most && missed < most ? Math.max(0, Math.round((100 * points) / most)) : 0;
}

/**
 * The middle one; of an even number the mean of the two in the middle.
 *
 * @param {readonly number[]} numbers
 * @returns {number | undefined} undefined: there is none
 */
export function median(numbers) {
  const sorted = [...numbers].sort((one, other) => one - other);
  const half = sorted.length / 2;
  return sorted.length ? (sorted[Math.floor(half - 0.5)] + sorted[Math.floor(half)]) / 2 : undefined;
}
