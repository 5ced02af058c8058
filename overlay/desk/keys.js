/**
 * Which key does what at the desk: the usual keys, the operator's own keys, and the meaning of a press. Pure.
 *
 * @typedef {import("../shared/queue.js").StoragePort} StoragePort
 *
 * @typedef {object} Action
 * @property {string} id
 * @property {string} label
 * @property {string} key as the browser names it
 */

import { say } from "../shared/say.js";

/** @type {Action[]} */
export const ACTIONS = [
  { id: "take", label: say("desk.key_take"), key: " " },
  { id: "clear", label: say("desk.key_clear"), key: "c" },
  { id: "next", label: say("desk.key_next"), key: "ArrowDown" },
  { id: "previous", label: say("desk.key_previous"), key: "ArrowUp" },
  { id: "leader", label: say("desk.key_leader"), key: "l" },
  { id: "battle", label: say("desk.key_battle"), key: "b" },
  { id: "fastest", label: say("desk.key_fastest"), key: "f" },
  { id: "finisher", label: say("desk.key_finisher"), key: "i" },
  { id: "by", label: say("desk.key_by"), key: "n" },
  { id: "output", label: say("desk.key_output"), key: "o" },
  { id: "automatic", label: say("desk.key_automatic"), key: "a" },
  { id: "proposal", label: say("desk.key_proposal"), key: "p" },
  { id: "dismiss", label: say("desk.key_dismiss"), key: "x" },
  { id: "later", label: say("desk.delay_longer"), key: "+" },
  { id: "sooner", label: say("desk.delay_shorter"), key: "-" },
  { id: "add", label: say("desk.key_add"), key: "e" },
  { id: "up", label: say("desk.key_up"), key: "u" },
  { id: "down", label: say("desk.key_down"), key: "d" },
  { id: "remove", label: say("desk.key_remove"), key: "Delete" },
  { id: "restore", label: say("desk.key_restore"), key: "z" },
  ...Array.from({ length: 10 }, (_, digit) => ({ id: `digit${digit}`, label: say("desk.key_digit", { digit }), key: String(digit) })),
];

const STORED = "tallywire.desk.keys";
const NAMES = /** @type {Record<string, string>} */ ({
  " ": say("desk.key_space"),
  ArrowUp: "↑",
  ArrowDown: "↓",
  ArrowLeft: "←",
  ArrowRight: "→",
  Backspace: "⌫",
  Delete: say("desk.key_delete"),
  "-": "−",
});
/** These keep their meaning for the browser and for those who work without a mouse. */
const KEPT = new Set(["Tab", "Escape", "Enter", "Shift", "Control", "Alt", "Meta", "Dead", "Unidentified", "Process"]);

export class Keys {
  #storage;
  /** @type {Map<string, string>} action → key */
  #keys;

  /** @param {StoragePort} storage */
  constructor(storage) {
    this.#storage = storage;
    const own = parse(storage.getItem(STORED));
    this.#keys = new Map(ACTIONS.map(({ id, key }) => [id, typeof own[id] === "string" ? own[id] : key]));
  }

  /**
   * The same keys over another storage; what is done to the one does not change the other.
   *
   * @param {(key: string, text: string) => void} setItem
   */
  copy(setItem) {
    const made = new Keys({ getItem: () => null, setItem, removeItem: () => {} });
    made.#keys = new Map(this.#keys);
    return made;
  }

  /**
   * The key of an action, as it is written on the page.
   *
   * @param {string} id
   */
  name(id) {
    const key = this.#keys.get(id) ?? "";
    return NAMES[key] ?? key;
  }

  /**
   * What a key does; undefined for nothing.
   *
   * @param {string} key
   */
  actionOf(key) {
    const pressed = plain(key);
    return [...this.#keys].find(([, each]) => each === pressed)?.[0];
  }

  /**
   * Give an action another key. A key does one thing, so the action that had it before gets the other key.
   *
   * @param {string} id
   * @param {string} key
   * @returns {string | undefined} what is wrong with it
   */
  set(id, key) {
    const wanted = plain(key);
    if (KEPT.has(wanted)) return say("desk.key_taken", { key: wanted });
    const other = this.actionOf(wanted);
    const before = this.#keys.get(id) ?? "";
    if (other !== undefined) this.#keys.set(other, before);
    this.#keys.set(id, wanted);
    this.#keep();
    return undefined;
  }

  /** Back to the usual keys. */
  reset() {
    this.#keys = new Map(ACTIONS.map(({ id, key }) => [id, key]));
    this.#keep();
  }

  #keep() {
    try {
      this.#storage.setItem(STORED, JSON.stringify(Object.fromEntries(this.#keys)));
    } catch {
      // The keys hold until the page is closed.
    }
  }
}

/** A letter is the same key with and without shift. @param {string} key */
function plain(key) {
  return key.length === 1 ? key.toLowerCase() : key;
}

/**
 * @param {string | null} text
 * @returns {Record<string, unknown>}
 */
function parse(text) {
  try {
    const found = JSON.parse(text ?? "{}");
    return typeof found === "object" && found !== null ? found : {};
  } catch {
    return {};
  }
}
