/**
 * What the desk has prepared for one output: the item, and its line of the rundown. Pure.
 *
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").OutputData} OutputData
 */

import { lineAfter } from "./edits.js";

export class Hand {
  /** @type {Item | undefined} what a take would bring */
  item;
  /** @type {number | undefined} the line of the rundown it came from, as long as nobody changed it */
  line;
  /** The line that comes next, when nothing from the rundown is in hand. */
  #next = 0;

  /** The same, to be changed without changing this one. */
  copy() {
    const made = new Hand();
    [made.item, made.line, made.#next] = [this.item, this.line, this.#next];
    return made;
  }

  /**
   * Prepare an item that is no line of the rundown.
   *
   * @param {Item} item
   */
  prepare(item) {
    if (this.line !== undefined) this.#next = this.line;
    [this.item, this.line] = [item, undefined];
  }

  /**
   * Prepare a line of the rundown; a line that is not there changes nothing.
   *
   * @param {readonly Item[]} rundown
   * @param {number} line
   */
  prepareLine(rundown, line) {
    const found = rundown[line];
    if (found) [this.item, this.line, this.#next] = [found, line, line];
  }

  /**
   * Prepare the line after the prepared one, or before it. After something else was prepared, the first step goes back
   * to the line that was left.
   * @param {readonly Item[]} rundown
   * @param {1 | -1} by
   */
  step(rundown, by) {
    this.prepareLine(rundown, this.line === undefined ? Math.min(this.#next, rundown.length - 1) : this.line + by);
  }

  /**
   * The rundown was changed, by this desk or by another: what is in hand stays in hand, and its line is where it is now.
   *
   * @param {readonly Item[]} before
   * @param {readonly Item[]} after
   */
  follow(before, after) {
    if (this.line === undefined) return;
    this.#next = Math.max(Math.min(this.line, after.length - 1), 0);
    this.line = lineAfter(before, after, this.line);
  }

  /**
   * What was in hand went to programme: a line makes room for the one after it, anything else stays prepared.
   *
   * @param {readonly Item[]} rundown
   */
  taken(rundown) {
    if (this.line !== undefined) this.prepareLine(rundown, this.line + 1);
  }
}

/** Two digits typed within this time make one number. */
export const DIGITS_MS = 700;

/** Collects digits into a number: a second one counts when it comes soon and there is such a number. */
export class Digits {
  #text = "";
  #at = -Infinity;

  /** The same, to be changed without changing this one. */
  copy() {
    const made = new Digits();
    [made.#text, made.#at] = [this.#text, this.#at];
    return made;
  }

  /**
   * @param {string} digit
   * @param {number} nowMs
   * @param {(number: number) => boolean} isKnown
   * @returns {number | undefined} the number so far; undefined while it is 0
   */
  press(digit, nowMs, isKnown) {
    const both = this.#text + digit;
    this.#text = nowMs - this.#at < DIGITS_MS && both.length < 3 && isKnown(Number(both)) ? both : digit;
    this.#at = nowMs;
    return Number(this.#text) || undefined;
  }
}
