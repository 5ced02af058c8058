/**
 * A sender's durable queue: it numbers facts 1, 2, 3 …, holds each until the server has it on disk, and survives a
 * reload. Pure apart from the storage it is given. See docs/wire.md, "Sending facts".
 *
 * In storage: `tallywire.NAME` holds {sender, watermark}; `tallywire.SENDER.7` holds fact 7. A fact is one write, and
 * the numbers above the watermark without a hole are the queue, so that a crash between two writes loses nothing.
 *
 * @typedef {import("./types.js").FactData} FactData
 * @typedef {import("./types.js").FactDraft} FactDraft
 *
 * @typedef {object} StoragePort the part of Web Storage that is used
 * @property {(key: string) => string | null} getItem
 * @property {(key: string, value: string) => void} setItem
 * @property {(key: string) => void} removeItem
 */

/** This many facts stay well below the 64 KiB of a message, even if each has a long reason. */
const BATCH = 64;

export class Queue {
  #storage;
  #name;
  #makeSender;
  #sender = "";
  #watermark = 0;
  /** @type {FactData[]} above the watermark, in order, without a hole */
  #held = [];
  /** The highest number that may ever have left this device. */
  #left = 0;
  /** The highest number given out on the present connection. */
  #given = 0;
  /** The server of the present connection lost facts that were acknowledged. */
  #lost = false;
  #durable = true;
  /** How far off the times of facts can be that are added; undefined: not said. @type {number | undefined} */
  #uncertainMs;

  /**
   * @param {object} options
   * @param {StoragePort} options.storage
   * @param {string} options.name one queue a name and device, such as `lane-4`
   * @param {() => string} options.makeSender makes a sender name that was never used before
   * @param {Queue} [options.from] the queue it goes on from; missing: from what is in the storage
   * @param {number} [options.uncertainMs] how far off the times of facts can be that are added
   */
  constructor({ storage, name, makeSender, from, uncertainMs }) {
    this.#uncertainMs = uncertainMs;
    this.#storage = storage;
    this.#name = name;
    this.#makeSender = makeSender;
    if (from) this.#goOn(from);
    else this.#load();
  }

  /**
   * The same queue over another storage; what is done to the one does not change the other.
   *
   * @param {{storage: StoragePort, makeSender: () => string, uncertainMs?: number}} options
   */
  copy({ storage, makeSender, uncertainMs }) {
    return new Queue({ storage, name: this.#name, makeSender, from: this, uncertainMs });
  }

  /** The storage refused a write after it was given one. */
  notKept() {
    this.#durable = false;
  }

  /** The sender's name, for `hello`. It changes only when the server lost facts that were acknowledged. */
  get sender() {
    return this.#sender;
  }

  /** False once the storage refused a write: then a reload would lose what waits. */
  get durable() {
    return this.#durable;
  }

  /** The highest number that the server has on disk. */
  get watermark() {
    return this.#watermark;
  }

  /**
   * The facts that wait for the server, in order.
   *
   * @returns {readonly FactData[]}
   */
  get waiting() {
    return this.#held;
  }

  /**
   * Number a fact and hold it.
   *
   * @param {FactDraft} draft
   * @returns {FactData}
   */
  add(draft) {
    const uncertain = this.#uncertainMs === undefined ? {} : { uncertain_ms: this.#uncertainMs };
    const fact = { ...draft, ...uncertain, sender: this.#sender, sequence: this.#last + 1 };
    this.#held = [...this.#held, fact];
    this.#write(this.#key(fact.sequence), fact);
    return fact;
  }

  /**
   * Give the next facts that were not sent on this connection; empty when there are none.
   *
   * @returns {FactData[]}
   */
  take() {
    const batch = this.#held.filter((fact) => fact.sequence > this.#given).slice(0, BATCH);
    this.#given = batch.length ? batch[batch.length - 1].sequence : this.#given;
    this.#left = Math.max(this.#left, this.#given);
    return batch;
  }

  /**
   * Give everything that was not sent on this connection to `send`, batch by batch.
   *
   * @param {(facts: FactData[]) => void} send
   */
  drain(send) {
    for (let facts = this.take(); facts.length; facts = this.take()) send(facts);
  }

  /**
   * A connection begins: the server has everything up to the watermark, the rest is to be sent.
   *
   * @param {number} watermark
   */
  welcome(watermark) {
    this.#lost = watermark < this.#watermark;
    this.#renumberAbove(watermark);
    this.acknowledge(watermark);
    this.#given = watermark;
  }

  /**
   * The server has everything up to the watermark on disk.
   *
   * @param {number} watermark
   */
  acknowledge(watermark) {
    if (watermark <= this.#watermark) return;
    const before = this.#watermark;
    this.#watermark = watermark;
    this.#writeHead();
    for (let number = before + 1; number <= watermark; number += 1) this.#drop(number);
    this.#held = this.#held.filter((fact) => fact.sequence > watermark);
  }

  /**
   * The server expects another number. Usually that rewinds; when it expects one that we let go because its journal is
   * older than what it once acknowledged, as its welcome said, what waits gets a new sender's name and numbers from 1.
   * Otherwise such an answer was overtaken on the way, by one that acknowledged the number.
   *
   * @param {number} expected
   * @returns {boolean} true: the sender is a new one, say hello again
   */
  gap(expected) {
    if (expected > this.#watermark) {
      this.#given = expected - 1;
      return false;
    }
    if (!this.#lost) return false;
    this.#begin(this.#held);
    return true;
  }

  get #last() {
    return this.#held.length ? this.#held[this.#held.length - 1].sequence : this.#watermark;
  }

  /** @param {Queue} from */
  #goOn(from) {
    this.#sender = from.#sender;
    this.#watermark = from.#watermark;
    this.#held = from.#held;
    this.#left = from.#left;
    this.#given = from.#given;
    this.#lost = from.#lost;
    this.#durable = from.#durable;
  }

  #load() {
    const head = parse(this.#storage.getItem(`tallywire.${this.#name}`));
    if (!head) {
      this.#begin([]);
      return;
    }
    this.#sender = head.sender;
    this.#watermark = head.watermark;
    for (;;) {
      const fact = parse(this.#storage.getItem(this.#key(this.#last + 1)));
      if (!fact) break;
      this.#held = [...this.#held, fact];
    }
    this.#left = this.#last;
    this.#given = this.#watermark;
  }

  /**
   * Take a new sender's name and number these facts from 1. The head is written last: until then the old queue holds.
   *
   * @param {FactData[]} facts
   */
  #begin(facts) {
    this.#sender = this.#makeSender();
    this.#watermark = this.#left = this.#given = 0;
    this.#lost = false;
    this.#held = facts.map((fact, index) => ({ ...fact, sender: this.#sender, sequence: index + 1 }));
    for (const fact of this.#held) this.#write(this.#key(fact.sequence), fact);
    this.#writeHead();
  }

  /**
   * The server may know numbers that this device forgot (a crash can undo the storage's last writes). Facts that never
   * left under such a number get one above it: under the old one the server would take them for repeats.
   *
   * @param {number} watermark
   */
  #renumberAbove(watermark) {
    const fresh = this.#held.filter((fact) => fact.sequence > this.#left);
    if (!fresh.length || fresh[0].sequence > watermark) return;
    const shift = watermark + 1 - fresh[0].sequence;
    const moved = fresh.map((fact) => ({ ...fact, sequence: fact.sequence + shift }));
    for (const fact of [...moved].reverse()) this.#write(this.#key(fact.sequence), fact);
    this.#held = [...this.#held.filter((fact) => fact.sequence <= this.#left), ...moved];
  }

  /** @param {number} number */
  #key(number) {
    return `tallywire.${this.#sender}.${number}`;
  }

  #writeHead() {
    this.#write(`tallywire.${this.#name}`, { sender: this.#sender, watermark: this.#watermark });
  }

  /**
   * @param {string} key
   * @param {object} value
   */
  #write(key, value) {
    try {
      this.#storage.setItem(key, JSON.stringify(value));
    } catch {
      this.#durable = false; // full, or not allowed: counting goes on in memory and the page says so
    }
  }

  /** @param {number} number */
  #drop(number) {
    this.#storage.removeItem(this.#key(number));
  }
}

/**
 * @param {string | null} text
 * @returns {any}
 */
function parse(text) {
  try {
    return text === null ? null : JSON.parse(text);
  } catch {
    return null; // a torn write is no fact
  }
}

/**
 * Give letters and digits that nobody else has. `crypto.randomUUID` is missing on a page that came over plain http
 * from another machine, `getRandomValues` is not.
 *
 * @param {number} bytes
 * @returns {string} two hex digits a byte
 */
export function randomHex(bytes) {
  return [...crypto.getRandomValues(new Uint8Array(bytes))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Storage that forgets with the page, for when the browser's is switched off.
 *
 * @returns {StoragePort}
 */
export function memoryStorage() {
  /** @type {Map<string, string>} */
  const items = new Map();
  return {
    getItem: (key) => items.get(key) ?? null,
    setItem: (key, value) => void items.set(key, value),
    removeItem: (key) => void items.delete(key),
  };
}
