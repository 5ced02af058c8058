/**
 * The public feed as a page reads it: the newest list once a second at most, and the segment that it names when that is
 * another one. It asks nothing that a cache could not answer. docs/wire.md has the feed.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Newest
 * @property {string} segment
 * @property {number} unix_ms the moment of the picture
 * @property {object} changes since the segment, a JSON Merge Patch
 *
 * @typedef {object} Seen
 * @property {HeatFrame} picture
 * @property {number} unixMs the moment of the picture
 *
 * @typedef {object} FeedPorts
 * @property {string} newest the path of the list
 * @property {(path: string) => Promise<any>} get gives what stands there, as JSON; fails when nothing came
 * @property {(ms: number, act: () => void) => void} after
 * @property {() => number} random 0 to 1
 * @property {() => boolean} isSeen false while nobody looks at the page
 * @property {(seen: Seen) => void} show
 * @property {(failures: number) => void} failed how many times in a row nothing came
 */

import { applyPatch } from "../shared/patch.js";

/** So long the page waits between two questions while a heat runs, and while none does. */
export const RUNNING_MS = 1000;
export const RESTING_MS = 3000;
/** After a failure: twice as long each time, up to this. */
export const LONGEST_MS = 30_000;
/** Waits are longer by up to this share, so that phones do not ask in step. */
const JITTER = 0.2;

/**
 * How long to wait until the next question.
 *
 * @param {boolean} running
 * @param {number} failures in a row
 * @param {number} random 0 to 1
 * @returns {number} milliseconds
 */
export function waitMs(running, failures, random) {
  if (failures === 0) return (running ? RUNNING_MS : RESTING_MS) * (1 + JITTER * random);
  return Math.min(LONGEST_MS, RUNNING_MS * 2 ** failures) * (0.5 + 0.5 * random);
}

/**
 * Read the feed from now on. Gives a function that asks at once, for a page that is looked at again.
 *
 * @param {FeedPorts} ports
 * @returns {() => void}
 */
export function readFeed(ports) {
  let [failures, running, turn] = [0, true, 0];
  /** @type {{name: string, picture: HeatFrame} | undefined} */
  let segment;

  const read = async () => {
    /** @type {Newest} */
    const { segment: name, unix_ms: unixMs, changes } = await ports.get(ports.newest);
    if (segment?.name !== name) segment = { name, picture: await ports.get(`/public/segments/${name}`) };
    const picture = /** @type {HeatFrame} */ (applyPatch(segment.picture, changes));
    running = picture.heat.status === "running";
    return { picture, unixMs };
  };
  const ask = async () => {
    const mine = (turn += 1);
    const seen = await read().catch(() => undefined);
    // Another question was asked meanwhile: its answer is the newer one.
    if (mine !== turn) return;
    failures = seen ? 0 : failures + 1;
    if (seen) ports.show(seen);
    else ports.failed(failures);
    ports.after(waitMs(running, failures, ports.random()), () => {
      if (mine === turn && ports.isSeen()) void ask();
    });
  };
  void ask();
  return () => void ask();
}

/** The time of the pictures, told from when they came: never ahead of the broadcast, because no picture is. */
export class PictureTime {
  #ahead = -Infinity;

  /**
   * @param {number} unixMs the moment of a picture
   * @param {number} localMs when it came
   */
  add(unixMs, localMs) {
    // A clock that was set is told by a picture that is far off; else the one that came quickest counts.
    if (Math.abs(unixMs - localMs - this.#ahead) > LONGEST_MS) this.#ahead = -Infinity;
    this.#ahead = Math.max(this.#ahead, unixMs - localMs);
  }

  /** @param {number} localMs */
  at(localMs) {
    return localMs + this.#ahead;
  }
}
