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

/** @type {Action[]} */
export const ACTIONS = [
  { id: "take", label: "Take the preview", key: " " },
  { id: "clear", label: "Clear the programme", key: "c" },
  { id: "next", label: "Next in the rundown", key: "ArrowDown" },
  { id: "previous", label: "Previous in the rundown", key: "ArrowUp" },
  { id: "leader", label: "Follow the leader", key: "l" },
  { id: "battle", label: "Follow a battle for a place", key: "b" },
  { id: "fastest", label: "Follow the fastest now", key: "f" },
  { id: "finisher", label: "Follow who came in last", key: "i" },
  { id: "by", label: "Number keys: lanes or places", key: "n" },
  { id: "output", label: "Next output", key: "o" },
  { id: "automatic", label: "Automatic: off, propose, take", key: "a" },
  { id: "proposal", label: "Take the proposal", key: "p" },
  { id: "dismiss", label: "Drop the proposal", key: "x" },
  { id: "later", label: "Delay 0.1 s longer", key: "+" },
  { id: "sooner", label: "Delay 0.1 s shorter", key: "-" },
  { id: "add", label: "Add the preview to the rundown", key: "e" },
  { id: "up", label: "Line of the rundown up", key: "u" },
  { id: "down", label: "Line of the rundown down", key: "d" },
  { id: "remove", label: "Remove the line of the rundown", key: "Delete" },
  { id: "restore", label: "Take back the last change of the rundown", key: "z" },
  ...Array.from({ length: 10 }, (_, digit) => ({ id: `digit${digit}`, label: `Number ${digit}`, key: String(digit) })),
];

const STORED = "tallywire.desk.keys";
const NAMES = /** @type {Record<string, string>} */ ({
  " ": "space",
  ArrowUp: "↑",
  ArrowDown: "↓",
  ArrowLeft: "←",
  ArrowRight: "→",
  Backspace: "⌫",
  Delete: "Del",
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
    if (KEPT.has(wanted)) return `found ${wanted}, expected a key that the browser leaves free`;
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
