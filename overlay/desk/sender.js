/**
 * Sends the desk's facts. Unlike a pad, the desk must not keep a take for later: a picture asked for while the link
 * was down would come on at the wrong moment. So every connection has a sender name of its own, and facts that were not
 * acknowledged before the link broke are reported to the operator instead of being sent again.
 * @typedef {import("../shared/types.js").FactDraft & {[field: string]: unknown}} Draft
 * @typedef {{type: "facts", facts: (Draft & {sender: string, sequence: number})[]}} Facts
 */

import { refusalText } from "../shared/refusal.js";
import { say } from "../shared/say.js";

export class Sender {
  #desk;
  #connections = 0;
  #sequence = 0;
  /** @type {Map<number, string>} what waits for its answer, in words */
  #open = new Map();
  #post;

  /**
   * @param {string} desk a name of this desk that is used by no other
   * @param {(message: Facts) => boolean} post false: there is no link
   */
  constructor(desk, post) {
    this.#desk = desk;
    this.#post = post;
  }

  /**
   * The same sender with another way to send: changing one does not change the other.
   *
   * @param {(message: Facts) => boolean} post false: there is no link
   */
  copy(post) {
    const made = new Sender(this.#desk, post);
    [made.#connections, made.#sequence, made.#open] = [this.#connections, this.#sequence, new Map(this.#open)];
    return made;
  }

  /** Note that a connection begins, and with it a new sender name. */
  begin() {
    this.#connections += 1;
    this.#sequence = 0;
    return this.name;
  }

  /** The sender's name on this connection. */
  get name() {
    return `${this.prefix}${this.#connections}`;
  }

  /** How every sender name of this desk begins. */
  get prefix() {
    return `desk-${this.#desk}-`;
  }

  /**
   * Send a fact now or not at all.
   *
   * @param {Draft} draft
   * @param {string} words
   * @returns {boolean} false: there is no link, nothing was sent
   */
  send(draft, words) {
    const sequence = this.#sequence + 1;
    const fact = { ...draft, sender: this.name, sequence };
    if (!this.#post({ type: "facts", facts: [fact] })) return false;
    this.#sequence = sequence;
    this.#open.set(sequence, words);
    return true;
  }

  /**
   * A fact did not leave: the link was away after all.
   *
   * @param {number} sequence
   * @returns {string | undefined} what was to be sent, in words
   */
  unsent(sequence) {
    const words = this.#open.get(sequence);
    this.#open.delete(sequence);
    this.#sequence = Math.min(this.#sequence, sequence - 1);
    return words;
  }

  /**
   * The server has it on disk, or says why not.
   *
   * @param {import("../shared/types.js").Acknowledged} answer
   * @returns {string[]} what was refused, in words
   */
  take({ watermark, refused }) {
    const told = refused.map((refusal) => say("desk.refused", { what: this.#open.get(refusal.sequence) ?? say("desk.it"), why: refusalText(refusal) }));
    for (const sequence of [...this.#open.keys()]) if (sequence <= watermark) this.#open.delete(sequence);
    return told;
  }

  /**
   * The link is lost.
   *
   * @returns {string[]} what may not have arrived, in words
   */
  lose() {
    const words = [...this.#open.values()];
    this.#open.clear();
    return words;
  }
}
