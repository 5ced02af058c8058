/**
 * A pad without a server: the reducer of the lane pad, whose facts are answered here and then forgotten with the page. It
 * opens no link, and writes nothing.
 *
 * @typedef {import("../pad/reducer.js").PadEvent} PadEvent
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").FactData} FactData
 */

import { buzz } from "../shared/device.js";
import { memoryStorage, randomHex } from "../shared/queue.js";
import { reduce } from "../pad/reducer.js";
import { clockMs, openPad, shownAt, viewAt } from "../pad/state.js";

export class PadAlone {
  #state;
  #screen;
  /** @type {FactData[]} */
  #facts = [];

  /**
   * @param {HeatFrame} frame of a heat that has not started
   * @param {object} made
   * @param {number} made.startsMs when its clock starts, by the page's own clock
   * @param {import("../pad/screen.js").Screen} made.screen
   */
  constructor(frame, { startsMs, screen }) {
    this.#screen = screen;
    this.#state = openPad({ lane: frame.order[0], storage: memoryStorage() }, this.#now());
    this.dispatch({ type: "link", link: { up: true, since: Date.now() } });
    const clock = { ...frame.clock, zero_unix_ms: wallMs(startsMs), zero_at_ms: 0 };
    this.dispatch({ type: "frame", frame: { ...frame, heat: { ...frame.heat, status: "running" }, clock } });
  }

  /** What was counted and stands, in the order of time. */
  get facts() {
    const struck = new Set(this.#facts.map(({ voids }) => voids));
    return this.#facts.filter(({ id, fact }) => !struck.has(id) && fact !== "fact_voided");
  }

  /** The heat clock; undefined before the start. */
  clockMs() {
    return clockMs(this.#state, this.#now());
  }

  surface() {
    return viewAt(this.#state, this.#now()).surface;
  }

  /**
   * @param {PadEvent} event
   * @param {number} [tickMs] when it was, by the page's own clock
   */
  dispatch(event, tickMs = performance.now()) {
    const { state, effects } = reduce(this.#state, event, this.#now(tickMs));
    this.#state = state;
    for (const effect of effects) {
      if (effect.do === "buzz") buzz(effect.kind);
      else if (effect.do === "ring") this.#screen.ring(effect.point);
      else if (effect.do === "send") this.#answer(effect.facts);
    }
    this.#draw();
  }

  /**
   * @param {number} tickMs
   * @param {(atMs: number, serverMs: number) => PadEvent} make
   */
  touch(tickMs, make) {
    const instant = this.#now(tickMs);
    this.dispatch(make(clockMs(this.#state, instant) ?? 0, instant.serverMs), tickMs);
  }

  /**
   * Take facts as the table would: all of them, at once.
   *
   * @param {FactData[]} facts
   */
  #answer(facts) {
    this.#facts.push(...facts);
    const watermark = facts[facts.length - 1].sequence;
    this.dispatch({ type: "message", message: { type: "acknowledged", sender: "", watermark, refused: [] } });
  }

  #draw() {
    const instant = this.#now();
    const choose = (/** @type {string} */ choice) => this.touch(performance.now(), () => ({ type: "chosen", choice }));
    const { view, ...shown } = shownAt(this.#state, instant);
    this.#screen.show(view, { ...shown, choose });
  }

  /** @returns {import("../pad/state.js").Instant} */
  #now(tickMs = performance.now()) {
    const nowMs = wallMs(tickMs);
    return { nowMs, serverMs: nowMs, tickMs, id: randomHex(16), sender: `practice-${randomHex(3)}` };
  }
}

/** @param {number} tickMs by the page's own clock */
function wallMs(tickMs) {
  return performance.timeOrigin + tickMs;
}
