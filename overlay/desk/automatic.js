/**
 * The automatic mode of one output: by rule it proposes a picture, or takes it, and it always yields to the operator. Pure.
 *
 * There are two rules: a finish card for each athlete who comes in, and the run-in in the last two minutes before the
 * cap. A card stays for a while; then what was on before comes back, or the output is clear again. After the operator
 * took or cleared, nothing is taken for a while, and a picture the operator put on is never taken back for one from
 * before.
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").OutputData} OutputData
 *
 * @typedef {object} Proposal
 * @property {string} key
 * @property {Item} item
 * @property {string} why
 *
 * @typedef {{take: Item} | {clear: true}} Act
 *
 * @typedef {object} Ours
 * @property {"card" | "run-in"} of
 * @property {Item} [before] what was on before; missing: nothing
 * @property {number} until
 * @property {Ours} [under] the run-in that a card interrupts
 *
 * @typedef {object} Seen
 * @property {HeatFrame} frame the heat as the output shows it, with its delay
 * @property {number | undefined} clockMs the heat's clock as the output shows it
 * @property {OutputData} output
 * @property {number} nowMs the server's wall time
 */

import { resultText } from "../formats/registry.js";
import { say } from "../shared/say.js";

/** How long a finish card stays. */
export const CARD_MS = 8000;
/** From this long before the cap on, the run-in is offered. */
export const RUN_IN_MS = 120_000;
/** How long nothing is taken after the operator did something. */
export const YIELD_MS = 12_000;
/** A finish that was not shown within this time is not shown any more. */
export const STALE_MS = 45_000;
/** An act that has no effect within this time was refused or lost. */
const LOST_MS = 3000;

export class Automatic {
  #heat = "";
  /** @type {Set<number>} */
  #home = new Set();
  /** @type {{lane: number, at: number}[]} lanes that came in and were not shown */
  #queue = [];
  #runIn = /** @type {"waiting" | "due" | "over"} */ ("waiting");
  /** @type {Ours | undefined} what is on by rule, and over what */
  #ours;
  /** @type {{changed: string, until: number} | undefined} an act on its way */
  #pending;

  /** The same, to be changed without changing this one. */
  copy() {
    const made = new Automatic();
    [made.#heat, made.#home, made.#queue, made.#runIn] = [this.#heat, this.#home, [...this.#queue], this.#runIn];
    [made.#ours, made.#pending] = [this.#ours, this.#pending];
    return made;
  }

  /**
   * Look at the output, and say what is proposed and what is to be done at once.
   *
   * @param {Seen} seen
   * @returns {{proposals: Proposal[], act?: Act}}
   */
  step({ frame, clockMs, output, nowMs }) {
    this.#look(frame, clockMs, nowMs);
    const proposals = this.#proposals(frame, output);
    if (this.#isPending(output, nowMs)) return { proposals };
    if (output.changed?.by === "operator") this.#ours = undefined;
    if (output.automatic !== "take") return { proposals };
    const act = this.#act(frame, output, nowMs);
    if (act) this.#pending = { changed: output.changed?.id ?? "", until: nowMs + LOST_MS };
    return act ? { proposals, act } : { proposals };
  }

  /**
   * The proposal was taken, or the operator does not want it.
   *
   * @param {string} key
   */
  drop(key) {
    if (key === "run-in") this.#runIn = "over";
    this.#queue = this.#queue.filter(({ lane }) => `finish ${lane}` !== key);
  }

  /**
   * @param {HeatFrame} frame
   * @param {number | undefined} clockMs
   * @param {number} nowMs
   */
  #look(frame, clockMs, nowMs) {
    const home = Object.values(frame.lanes).filter((lane) => lane.status === "finished").map((lane) => lane.lane);
    if (frame.heat.id !== this.#heat) {
      // A lane that had finished before this desk looked gets no card.
      [this.#heat, this.#home, this.#queue, this.#runIn] = [frame.heat.id, new Set(home), [], "waiting"];
    }
    const fresh = home.filter((lane) => !this.#home.has(lane));
    fresh.sort((a, b) => frame.lanes[a].reached_ms - frame.lanes[b].reached_ms);
    for (const lane of fresh) this.#queue.push({ lane, at: nowMs });
    this.#home = new Set(home);
    this.#queue = this.#queue.filter(({ lane, at }) => this.#home.has(lane) && nowMs - at < STALE_MS);
    this.#lookAtClock(frame, clockMs);
  }

  /**
   * @param {HeatFrame} frame
   * @param {number | undefined} clockMs
   */
  #lookAtClock(frame, clockMs) {
    const left = clockMs === undefined ? Infinity : frame.clock.cap_ms - clockMs;
    const works = Object.values(frame.lanes).some((lane) => lane.status === "working");
    if (frame.heat.status !== "running" || !works) {
      if (this.#runIn === "due") this.#runIn = "over";
    } else if (this.#runIn === "waiting" && left <= RUN_IN_MS && left > 0) this.#runIn = "due";
  }

  /**
   * @param {HeatFrame} frame
   * @param {OutputData} output
   * @returns {Proposal[]}
   */
  #proposals(frame, output) {
    if (output.automatic === "off") return [];
    const cards = this.#queue.map(({ lane }) => ({
      key: `finish ${lane}`,
      item: finishCard(lane),
      why: say("desk.why_finish", { lane, result: resultText(frame.lanes[lane]?.result ?? "") }),
    }));
    const runIn = { key: "run-in", item: { view: "runin", params: {} }, why: say("desk.why_run_in") };
    return this.#runIn === "due" && output.programme?.view !== "runin" ? [...cards, runIn] : cards;
  }

  /**
   * @param {HeatFrame} frame
   * @param {OutputData} output
   * @param {number} nowMs
   * @returns {Act | undefined}
   */
  #act(frame, output, nowMs) {
    const asked = output.changed?.by === "operator" && nowMs - output.changed.unix_ms < YIELD_MS;
    if (asked) return undefined;
    const card = this.#queue[0];
    const free = this.#ours?.of !== "card" || nowMs >= this.#ours.until;
    if (card && free) return this.#card(card.lane, output, nowMs);
    if (this.#ours?.of === "card" && free) return this.#back();
    if (this.#runIn === "due" && !this.#ours) return this.#takeRunIn(output);
    if (this.#ours?.of === "run-in" && frame.heat.status !== "running") return this.#back();
    return undefined;
  }

  /**
   * @param {number} lane
   * @param {OutputData} output
   * @param {number} nowMs
   */
  #card(lane, output, nowMs) {
    // Of several cards in a row, the first remembers what was on before them.
    const { before, under } = this.#ours?.of === "card" ? this.#ours : { before: bare(output.programme), under: this.#ours };
    this.#ours = { of: "card", before, under, until: nowMs + CARD_MS };
    this.drop(`finish ${lane}`);
    return { take: finishCard(lane) };
  }

  /** @param {OutputData} output */
  #takeRunIn(output) {
    this.#runIn = "over";
    if (output.programme?.view === "runin") return undefined;
    this.#ours = { of: "run-in", before: bare(output.programme), until: Infinity };
    return { take: { view: "runin", params: {} } };
  }

  /** @returns {Act} */
  #back() {
    const before = this.#ours?.before;
    this.#ours = this.#ours?.under;
    return before ? { take: before } : { clear: true };
  }

  /**
   * @param {OutputData} output
   * @param {number} nowMs
   */
  #isPending(output, nowMs) {
    if (this.#pending && (output.changed?.id ?? "") === this.#pending.changed && nowMs < this.#pending.until) return true;
    this.#pending = undefined;
    return false;
  }
}

/** @param {number} lane @returns {Item} */
function finishCard(lane) {
  return { view: "finish", params: { who: `lane:${lane}` } };
}

/** @param {Item | undefined} item @returns {Item | undefined} */
function bare(item) {
  return item && { view: item.view, params: item.params };
}
