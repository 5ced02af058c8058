/**
 * Staying in step with a delayed picture: whatever was made at a wall time is shown later by the delay, data and clock
 * alike. Pure.  The shown time is the server's wall time less the delay. When the delay grows, the shown time runs at
 * half speed until it is there; when it shrinks, at double speed. It never stands still, jumps or runs backwards, so a
 * clock shows every second once and a count never goes back. From 0 to 5 s takes ten seconds, from 5 s to 1 s four.
 */

/** No output is further behind than this; the server refuses more. */
export const LONGEST_DELAY_MS = 30_000;
/** The shown time runs no slower than this much of real time … */
export const SLOWEST = 0.5;
/** … and no faster than this. */
export const FASTEST = 2;
/** If the shown time is further off than this, a clock was set, and it starts anew. */
export const CLOCK_SET_MS = 60_000;
/** Anything due within this time is drawn now, because the browser shows it one picture later. */
export const LEAD_MS = 8;

/** The time that is shown. */
export class ShownTime {
  /** @type {number | undefined} */
  #shown;
  #localMs = 0;

  /** The same, to be changed without changing this one. */
  copy() {
    const made = new ShownTime();
    [made.#shown, made.#localMs] = [this.#shown, this.#localMs];
    return made;
  }

  /** The time that is shown; undefined before the first `advance`. */
  get ms() {
    return this.#shown;
  }

  /**
   * Let time pass.
   *
   * @param {number} localMs a clock that never goes back
   * @param {number} targetMs what should be shown: the server's wall time less the delay
   * @returns {number} what is shown
   */
  advance(localMs, targetMs) {
    const passed = Math.max(0, localMs - this.#localMs);
    const before = this.#shown;
    this.#localMs = localMs;
    if (before === undefined || Math.abs(targetMs - before - passed) > CLOCK_SET_MS) this.#shown = targetMs;
    else this.#shown = Math.min(Math.max(targetMs, before + SLOWEST * passed), before + FASTEST * passed);
    return this.#shown;
  }
}

/**
 * What waits to be shown, in the order it came. Nothing is ever shown twice, or after something newer.
 *
 * @template T
 */
export class Waiting {
  /** @type {{key: string, madeMs: number, value: T}[]} */
  #queue = [];
  #lastMs = -Infinity;

  /** The same, to be changed without changing this one. */
  copy() {
    /** @type {Waiting<T>} */
    const made = new Waiting();
    [made.#queue, made.#lastMs] = [this.#queue.map((each) => ({ ...each })), this.#lastMs];
    return made;
  }

  /** How many wait. */
  get size() {
    return this.#queue.length;
  }

  /**
   * @param {string} key what it replaces: a newer one with this key
   * @param {number} madeMs the server's wall time when it was made
   * @param {T} value
   */
  add(key, madeMs, value) {
    // A server's clock may be set back a little, and what came later is still newer. If it is set back far, it is
    // another clock.
    const made = madeMs < this.#lastMs - CLOCK_SET_MS ? madeMs : Math.max(madeMs, this.#lastMs);
    if (made < this.#lastMs) for (const each of this.#queue) each.madeMs = Math.min(each.madeMs, made);
    this.#lastMs = made;
    this.#queue.push({ key, madeMs: made, value });
  }

  /**
   * Give what is due, the newest of each key, in the order it came.
   *
   * @param {number} shownMs
   * @returns {{key: string, madeMs: number, value: T}[]}
   */
  take(shownMs) {
    const first = this.#queue.findIndex((each) => each.madeMs > shownMs);
    const due = this.#queue.splice(0, first < 0 ? this.#queue.length : first);
    return due.filter((each, index) => !due.some((other, at) => at > index && other.key === each.key));
  }

  /**
   * Forget what waits under a key.
   *
   * @param {string} key
   */
  drop(key) {
    this.#queue = this.#queue.filter((each) => each.key !== key);
  }
}

/**
 * A series of frames with its own delay: the time that is shown, and the frames that wait for it.
 *
 * @template T
 */
export class Delayed {
  #time = new ShownTime();
  /** @type {Waiting<T>} */
  #waiting = new Waiting();
  delayMs = 0;
  /** @type {number | undefined} */
  #jumps;
  #jumpedMs = -Infinity;

  /** The same, to be changed without changing this one. */
  copy() {
    /** @type {Delayed<T>} */
    const made = new Delayed();
    [made.#time, made.#waiting, made.delayMs] = [this.#time.copy(), this.#waiting.copy(), this.delayMs];
    [made.#jumps, made.#jumpedMs] = [this.#jumps, this.#jumpedMs];
    return made;
  }

  /** The time that is shown; undefined before the first `advance`. */
  get shownMs() {
    return this.#time.ms;
  }

  /**
   * Take a frame. Of a rehearsal that has jumped nothing is shown any more that was made before: what waits is dropped,
   * and the first frames from the new moment are due at once.
   *
   * @param {string} key
   * @param {number} madeMs
   * @param {T} value
   * @param {number} [jumps] how often the rehearsal has jumped
   */
  add(key, madeMs, value, jumps = 0) {
    if (this.#jumps !== undefined && jumps !== this.#jumps) [this.#waiting, this.#jumpedMs] = [new Waiting(), madeMs];
    this.#jumps = jumps;
    this.#waiting.add(key, madeMs <= this.#jumpedMs ? madeMs - this.delayMs : madeMs, value);
  }

  /** @param {string} key */
  drop(key) {
    this.#waiting.drop(key);
  }

  /**
   * Let time pass and give what is due. Without a delay nothing waits, whatever the clocks say.
   *
   * @param {number} localMs
   * @param {number | undefined} serverMs undefined while the server's clock is not known
   */
  advance(localMs, serverMs) {
    if (serverMs === undefined) return this.delayMs === 0 && this.shownMs === undefined ? this.#waiting.take(Infinity) : [];
    const shown = this.#time.advance(localMs, serverMs - this.delayMs);
    const settled = this.delayMs === 0 && Math.abs(serverMs - shown) <= LEAD_MS;
    return this.#waiting.take(settled ? Infinity : shown + LEAD_MS);
  }
}
