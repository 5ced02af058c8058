/**
 * What a page on the air hears from the server: frames when they are due, the time that is shown, and the link. All
 * pictures of a page share one link and one delay, so that they agree with each other.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {(frame: any, madeMs: number) => void} Hear
 */

import { Delayed } from "../shared/delay.js";
import { openWire } from "../shared/socket.js";

export class Feed {
  /** @type {Delayed<HeatFrame>} */
  #line = new Delayed();
  /** @type {Map<string, Set<Hear>>} */
  #due = new Map();
  /** @type {Map<string, Set<Hear>>} */
  #live = new Map();
  /** @type {Map<string, {frame: HeatFrame, madeMs: number}>} what was due last */
  #shown = new Map();
  /** @type {Map<string, {frame: HeatFrame, madeMs: number}>} what came last */
  #newest = new Map();
  /** @type {Set<(shownMs: number) => void>} */
  #ticks = new Set();
  #wire;

  /** @param {(link: {up: boolean}) => void} onLink */
  constructor(onLink) {
    this.#wire = openWire({
      role: "viewer",
      onFrame: (view, frame, heat, unixMs) => this.#take(`${view}/${heat}`, frame, unixMs),
      onLink,
    });
    const paint = () => {
      this.#advance();
      const shownMs = this.#line.shownMs ?? this.#wire.clock.nowMs();
      for (const tick of this.#ticks) tick(shownMs);
      requestAnimationFrame(paint);
    };
    requestAnimationFrame(paint);
  }

  /** How far behind the server everything is shown, in milliseconds. */
  get delayMs() {
    return this.#line.delayMs;
  }

  set delayMs(ms) {
    this.#line.delayMs = ms;
  }

  /**
   * Call a listener with the frames of a view when they are due, beginning with the one that is shown now.
   *
   * @param {string} view
   * @param {string} heat
   * @param {Hear} hear
   * @returns {() => void} ends it
   */
  watch(view, heat, hear) {
    return this.#join(this.#due, this.#shown, view, heat, hear);
  }

  /**
   * Call a listener with the frames of a view as they come, without the delay.
   *
   * @param {string} view
   * @param {string} heat
   * @param {Hear} hear
   * @returns {() => void} ends it
   */
  watchLive(view, heat, hear) {
    return this.#join(this.#live, this.#newest, view, heat, hear);
  }

  /**
   * Call a function before every picture that the browser paints.
   *
   * @param {(shownMs: number) => void} tick gets the server's wall time that is shown
   * @returns {() => void} ends it
   */
  onTick(tick) {
    this.#ticks.add(tick);
    return () => void this.#ticks.delete(tick);
  }

  /**
   * @param {Map<string, Set<Hear>>} ears
   * @param {Map<string, {frame: HeatFrame, madeMs: number}>} last
   * @param {string} view
   * @param {string} heat
   * @param {Hear} hear
   */
  #join(ears, last, view, heat, hear) {
    const key = `${view}/${heat}`;
    ears.set(key, (ears.get(key) ?? new Set()).add(hear));
    this.#wire.watch(view, heat);
    const known = last.get(key);
    if (known) hear(known.frame, known.madeMs);
    return () => {
      ears.get(key)?.delete(hear);
      if (!this.#due.get(key)?.size && !this.#live.get(key)?.size) this.#forget(key, view, heat);
    };
  }

  /**
   * @param {string} key
   * @param {string} view
   * @param {string} heat
   */
  #forget(key, view, heat) {
    this.#wire.unwatch(view, heat);
    this.#line.drop(key);
    this.#shown.delete(key);
    this.#newest.delete(key);
  }

  /**
   * @param {string} key
   * @param {HeatFrame} frame
   * @param {number} madeMs
   */
  #take(key, frame, madeMs) {
    this.#newest.set(key, { frame, madeMs });
    for (const hear of this.#live.get(key) ?? []) hear(frame, madeMs);
    if (!this.#due.get(key)?.size) return;
    this.#line.add(key, madeMs, frame, frame.jumps);
    if (this.delayMs === 0) this.#advance(); // not a picture later than it must
  }

  #advance() {
    const known = this.#wire.clock.errorMs() !== undefined;
    for (const { key, madeMs, value } of this.#line.advance(performance.now(), known ? this.#wire.clock.nowMs() : undefined)) {
      this.#shown.set(key, { frame: value, madeMs });
      for (const hear of this.#due.get(key) ?? []) hear(value, madeMs);
    }
  }
}
