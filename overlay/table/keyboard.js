/**
 * Counting several lanes from the keyboard: one key a lane, for a chief scorekeeper who watches lanes without a pad.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").FactDraft} FactDraft
 *
 * @typedef {object} Known what the table knows when a key is pressed
 * @property {HeatFrame | undefined} frame missing: the table may not act
 * @property {number} clockMs heat clock
 * @property {number} [errorMs] how far off it can be
 *
 * @typedef {object} Wishes
 * @property {() => Known} known
 * @property {(draft: FactDraft) => void} add
 */

import { formatOf } from "../formats/registry.js";
import { keyedChildren, part, setAttr, setText } from "../shared/dom.js";
import { isComplete, position } from "../shared/plan.js";
import { randomHex } from "../shared/queue.js";
import { say } from "../shared/say.js";
import { startOf } from "./actions.js";

const KEYS = "qwertyuiopasdfghjklz";

/**
 * The lanes in order, each with its key.
 *
 * @param {HeatFrame} frame
 * @returns {Map<string, number>}
 */
export function keysOf({ lanes }) {
  const numbers = Object.keys(lanes).map(Number).sort((a, b) => a - b);
  return new Map(numbers.slice(0, KEYS.length).map((lane, index) => [KEYS[index], lane]));
}

/**
 * What one press of a lane's key counts now: a rep, or the block that the lane is in.
 *
 * @param {Known} known
 * @param {number} lane
 * @param {string} id
 * @returns {FactDraft | undefined} undefined: nothing can be counted
 */
export function countDraft({ frame, clockMs, errorMs }, lane, id) {
  const found = frame?.lanes[lane];
  if (!frame || !found || found.status !== "working" || frame.heat.status !== "running") return undefined;
  if (!formatOf(frame.event).marks || isComplete(frame.event, found.done)) return undefined;
  const { leg } = position(frame.event, found.done);
  const fact = leg.credit === "block" ? "block_completed" : "rep_counted";
  const uncertain = errorMs === undefined ? {} : { uncertain_ms: Math.ceil(errorMs) };
  return { fact, id, heat: frame.heat.id, lane, at_ms: clockMs, ...startOf(fact, frame), ...uncertain };
}

export class Keyboard {
  /** What was counted here, newest last. @type {Map<number, FactDraft[]>} */
  #counted = new Map();
  #dialog;
  #root;
  #wishes;

  /**
   * @param {ParentNode} root
   * @param {Wishes} wishes
   */
  constructor(root, wishes) {
    this.#root = root;
    this.#wishes = wishes;
    this.#dialog = /** @type {HTMLDialogElement} */ (part(root, "keyboard"));
    part(root, "keyboard-open").addEventListener("click", () => this.#dialog.showModal());
    part(root, "keyboard-close").addEventListener("click", () => this.#dialog.close());
    this.#dialog.addEventListener("keydown", (event) => this.#press(event));
  }

  /** Draw the lanes with their keys and counts. */
  show() {
    const { frame } = this.#wishes.known();
    setAttr(part(this.#root, "keyboard-open"), "disabled", !frame);
    if (!frame || !this.#dialog.open) return;
    const keys = keysOf(frame);
    keyedChildren(part(this.#root, "keyboard-lanes"), [...keys.keys()], (key) => this.#makeKey(key), (button, key) => {
      const lane = frame.lanes[/** @type {number} */ (keys.get(key))];
      const padCounts = frame.pads?.[lane.lane]?.devices.some(({ up, role }) => up && role !== "backup");
      const note = padCounts ? ` · ${say("table.key_pad_too")}` : "";
      const { scored: count } = position(frame.event, lane.done);
      setText(button, say("table.key_lane", { key: key.toUpperCase(), lane: lane.lane, name: lane.short, count }) + note);
      setAttr(button, "disabled", !countDraft(this.#wishes.known(), lane.lane, ""));
    });
  }

  /** @param {string} key */
  #makeKey(key) {
    const button = document.createElement("button");
    button.type = "button";
    button.addEventListener("click", (event) => event.detail > 0 && this.#count(key)); // a finger; keys come by themselves
    return button;
  }

  /** @param {KeyboardEvent} event */
  #press(event) {
    const key = event.key.toLowerCase();
    if (event.repeat || event.ctrlKey || event.metaKey || event.altKey || !KEYS.includes(key)) return;
    event.preventDefault();
    if (event.shiftKey) this.#strike(key);
    else this.#count(key);
  }

  /** @param {string} key */
  #count(key) {
    const known = this.#wishes.known();
    const lane = known.frame && keysOf(known.frame).get(key);
    const draft = lane === undefined ? undefined : countDraft(known, lane, randomHex(16));
    if (lane === undefined || !draft) return;
    this.#counted.set(lane, [...(this.#counted.get(lane) ?? []), draft]);
    this.#wishes.add(draft);
  }

  /**
   * Take back the last one that was counted here on the lane.
   *
   * @param {string} key
   */
  #strike(key) {
    const { frame, clockMs } = this.#wishes.known();
    const lane = frame && keysOf(frame).get(key);
    const last = lane === undefined ? undefined : this.#counted.get(lane)?.pop();
    if (!frame || !last || last.heat !== frame.heat.id) return;
    const at_ms = Math.max(last.at_ms, clockMs);
    this.#wishes.add({ fact: "fact_voided", id: randomHex(16), heat: last.heat, lane, at_ms, voids: last.id, reason: "" });
  }
}
