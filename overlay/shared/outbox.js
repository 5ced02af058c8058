/**
 * What a page that counts or rules has sent without an answer yet: the queue of its facts, its recent history, and what
 * the server's answers mean for both. The pad and the table have the same one. Pure apart from the storage it is given.
 * @typedef {import("./queue.js").StoragePort} StoragePort
 * @typedef {import("./types.js").Acknowledged} Acknowledged
 *
 * @typedef {object} Heard what is to be done about an answer
 * @property {boolean} send give what waits to the link
 * @property {boolean} restart say hello again: the sender is a new one
 * @property {string[]} refused why facts were refused
 *
 * @typedef {object} Keeper who moves on when facts were taken
 * @property {(watermark: number, nowMs: number) => void} welcome
 * @property {(message: Acknowledged, nowMs: number) => void} acknowledge
 */

import { refusalText } from "./refusal.js";
import { History } from "./history.js";
import { Queue } from "./queue.js";

/** An answer usually takes a few hundredths of a second; the page says that it waits only when an answer takes longer.
 * */
export const PATIENCE_MS = 1000;

/** @template {import("./history.js").Sent} Entry */
export class Outbox {
  #answeredAtMs;

  /**
   * @param {object} parts
   * @param {Queue} parts.queue
   * @param {History<Entry>} parts.history
   * @param {number} parts.answeredAtMs
   */
  constructor({ queue, history, answeredAtMs }) {
    this.queue = queue;
    this.history = history;
    this.#answeredAtMs = answeredAtMs;
  }

  /**
   * Go on where this device stopped.
   *
   * @template {import("./history.js").Sent} Entry
   * @param {object} options
   * @param {StoragePort} options.storage
   * @param {string} options.name one outbox a name and device, such as `lane-4`
   * @param {() => string} options.makeSender makes a sender name that was never used before
   * @param {number} options.nowMs
   * @returns {Outbox<Entry>}
   */
  static open({ storage, name, makeSender, nowMs }) {
    const history = /** @type {History<Entry>} */ (new History(storage, name));
    return new Outbox({ queue: new Queue({ storage, name, makeSender }), history, answeredAtMs: nowMs });
  }

  /**
   * The same outbox over another storage; what is done to the one does not change the other.
   *
   * @param {object} options
   * @param {StoragePort} options.storage of the queue
   * @param {StoragePort} options.later of the history, which nothing waits for
   * @param {() => string} options.makeSender
   * @param {number} [options.uncertainMs]
   * @returns {Outbox<Entry>}
   */
  copy({ storage, later, makeSender, uncertainMs }) {
    const queue = this.queue.copy({ storage, makeSender, uncertainMs });
    return new Outbox({ queue, history: this.history.copy(later), answeredAtMs: this.#answeredAtMs });
  }

  /** How many facts wait for the server. */
  get count() {
    return this.queue.waiting.length;
  }

  /**
   * For how long there was no answer.
   *
   * @param {number} nowMs
   */
  waitedMs(nowMs) {
    return nowMs - this.#answeredAtMs;
  }

  /**
   * Facts will be added: without others before them, waiting begins now.
   *
   * @param {number} nowMs
   */
  begin(nowMs) {
    if (!this.count) this.#answeredAtMs = nowMs;
  }

  /**
   * Hear what the server says of facts.
   *
   * @param {import("./types.js").Notice} message
   * @param {number} nowMs
   * @param {Keeper} [keeper] who moves the queue and forgets what was refused, where that is more than this
   * @returns {Heard | undefined} undefined: the message is about something else
   */
  hear(message, nowMs, keeper = this) {
    if (message.type === "gap") {
      const restart = this.queue.gap(message.expected);
      return { send: !restart, restart, refused: [] };
    }
    if (message.type === "error" || message.type === "storage") return undefined;
    this.#answeredAtMs = nowMs;
    if (message.type === "acknowledged") {
      keeper.acknowledge(message, nowMs);
      return { send: false, restart: false, refused: message.refused.map(refusalText) };
    }
    keeper.welcome(message.watermark ?? 0, nowMs);
    return { send: true, restart: false, refused: [] };
  }

  /** @param {number} watermark everything up to it is on the server's disk */
  welcome(watermark) {
    this.queue.welcome(watermark);
  }

  /** @param {Acknowledged} message */
  acknowledge({ watermark, refused }) {
    const numbers = refused.map((refusal) => refusal.sequence);
    const lost = this.queue.waiting.filter((fact) => numbers.includes(fact.sequence)).map((fact) => fact.id);
    this.history.forget((entry) => lost.includes(entry.id));
    this.queue.acknowledge(watermark);
  }
}
