/**
 * What this device sent lately, newest last, so that "undo" knows what to strike and what that changes. It survives a
 * reload like the queue.
 *
 * @typedef {import("./queue.js").StoragePort} StoragePort
 *
 * @typedef {object} Sent
 * @property {string} id of the fact
 * @property {string} fact its kind
 * @property {string} heat
 * @property {number} at_ms
 * @property {boolean} [voided]
 * @property {string} [start] by whose clock its time was told
 */

/** Nobody undoes further back than this; the table corrects. */
const KEPT = 60;

/** @template {Sent} Entry */
export class History {
  #storage;
  #name;
  #key;
  /** @type {Entry[]} */
  #entries;

  /**
   * @param {StoragePort} storage
   * @param {string} name
   */
  constructor(storage, name) {
    this.#storage = storage;
    this.#name = name;
    this.#key = `tallywire.${name}.history`;
    this.#entries = parse(storage.getItem(this.#key));
  }

  /**
   * The same history over another storage; what is done to the one does not change the other.
   *
   * @param {StoragePort} storage
   * @returns {History<Entry>}
   */
  copy(storage) {
    const made = /** @type {History<Entry>} */ (new History(storage, this.#name));
    made.#entries = this.#entries;
    return made;
  }

  /**
   * What stands of a heat, oldest first.
   *
   * @param {string} heat
   */
  of(heat) {
    return this.#entries.filter((entry) => entry.heat === heat && !entry.voided);
  }

  /** @param {Entry} entry */
  add(entry) {
    this.#keep([...this.#entries, entry].slice(-KEPT));
  }

  /** @param {string} id */
  find(id) {
    return this.#entries.find((entry) => entry.id === id);
  }

  /** @param {string} id */
  markVoided(id) {
    this.#keep(this.#entries.map((entry) => (entry.id === id ? { ...entry, voided: true } : entry)));
  }

  /**
   * The newest of a heat that stands and fits.
   *
   * @param {string} heat
   * @param {(entry: Entry) => boolean} [fits]
   */
  last(heat, fits = () => true) {
    return this.#entries.findLast((entry) => entry.heat === heat && !entry.voided && fits(entry));
  }

  /**
   * When the newest fact of a heat by the clock of a start was, voided or not.
   *
   * @param {string} heat
   * @param {string} [start]
   */
  lastAtMs(heat, start) {
    return this.#entries.findLast((entry) => entry.heat === heat && entry.start === start)?.at_ms ?? 0;
  }

  /** @param {(entry: Entry) => boolean} fits */
  forget(fits) {
    this.#keep(this.#entries.filter((entry) => !fits(entry)));
  }

  /** @param {Entry[]} entries */
  #keep(entries) {
    this.#entries = entries;
    try {
      this.#storage.setItem(this.#key, JSON.stringify(entries));
    } catch {
      // The queue says when the storage is full; an undo less after a reload is bearable.
    }
  }
}

/**
 * @param {string | null} text
 * @returns {any[]}
 */
function parse(text) {
  try {
    const found = JSON.parse(text ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}
