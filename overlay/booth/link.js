/**
 * The link of a commentator or a spotter: it watches the booth view, and sends what they say. What is said while the
 * link is away waits, with its time, in an outbox like the pad's.
 *
 * @typedef {import("./types.js").BoothFrame} BoothFrame
 * @typedef {{fact: string, lane?: number, unix_ms?: number, [field: string]: unknown}} Saying
 * @typedef {import("../shared/history.js").Sent} Sent
 */

import { barredBecause } from "../shared/barred.js";
import { heatClockMs } from "../shared/clock.js";
import { Outbox } from "../shared/outbox.js";
import { randomHex } from "../shared/queue.js";
import { say } from "../shared/say.js";
import { openWire } from "../shared/socket.js";

export class BoothLink {
  /** @type {BoothFrame | undefined} */
  frame;
  up = false;
  /** Why the page may not do its work; empty: it may. */
  barred = "";
  /** Why the newest thing that was refused was. */
  refused = "";
  /** @type {Outbox<Sent>} */
  outbox;
  #changed;
  #wire;

  /**
   * @param {object} options
   * @param {"commentator" | "spotter"} options.role
   * @param {string | undefined} options.key
   * @param {string} options.heat as it is asked for
   * @param {import("../shared/queue.js").StoragePort} options.storage
   * @param {() => void} options.changed something that a page shows is another
   * @param {(pages: string | undefined) => void} [options.welcomed] the server said which program it serves
   */
  constructor({ role, key, heat, storage, changed, welcomed }) {
    this.#changed = changed;
    this.outbox = Outbox.open({ storage, name: role, makeSender: () => `${role}-${randomHex(4)}`, nowMs: Date.now() });
    this.#wire = openWire({
      role,
      key,
      sender: () => this.outbox.queue.sender,
      watch: [{ view: "booth", heat }],
      onFrame: (_view, frame) => this.#take(/** @type {BoothFrame} */ (/** @type {unknown} */ (frame))),
      onLink: ({ up }) => {
        this.up = up;
        changed();
      },
      onMessage: (message) => {
        if (message.type === "welcome") welcomed?.(message.pages);
        this.#hear(message);
      },
    });
  }

  /** The server's wall time, Unix milliseconds. */
  get unixMs() {
    return Math.round(this.#wire.clock.nowMs());
  }

  /** What the heat clock shows; undefined before the start. */
  clockMs() {
    return this.frame && heatClockMs(this.frame.clock, this.frame.speed ?? 1, this.#wire.clock.nowMs());
  }

  /**
   * Say something about the heat that is shown; it waits while there is no link.
   *
   * @param {Saying} saying
   */
  say(saying) {
    if (!this.frame) return;
    const stamp = { id: randomHex(12), heat: this.frame.heat.id, at_ms: this.clockMs() ?? 0 };
    this.outbox.begin(Date.now());
    this.outbox.queue.add({ ...stamp, ...saying });
    this.#send();
    this.#changed();
  }

  /** Close for good. */
  close() {
    this.#wire.close();
  }

  /** @param {BoothFrame} frame */
  #take(frame) {
    this.frame = frame;
    this.#changed();
  }

  /** @param {import("../shared/types.js").Notice} message */
  #hear(message) {
    if (message.type === "error") this.barred = barredBecause(message, say("booth.booth")) ?? this.barred;
    const heard = this.outbox.hear(message, Date.now());
    if (heard?.restart) this.#wire.restart();
    if (heard?.send) this.#send();
    this.refused = heard?.refused.at(-1) ?? this.refused;
    this.#changed();
  }

  #send() {
    if (this.up) this.outbox.queue.drain((facts) => this.#wire.send({ type: "facts", facts }));
  }
}
