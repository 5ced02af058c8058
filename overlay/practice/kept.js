/**
 * What this browser keeps of practising: the newest lane, to open without the network, and the best score of each. Nothing
 * of it leaves the browser. Pure apart from the storage it is given.
 *
 * @typedef {import("../shared/queue.js").StoragePort} StoragePort
 * @typedef {{id: string, name: string, event: string, lanes: number[]}} PractisedHeat
 *
 * @typedef {object} Made a lane to practise on, as the server gives it
 * @property {number} seed
 * @property {PractisedHeat[]} heats
 * @property {import("../shared/types.js").HeatFrame} frame
 * @property {import("./work.js").Done[]} truth
 *
 * @typedef {{workout: string, lane: number, seed: number, minutes: string}} Tried which lane, and how long of it
 */

const LANE = "tallywire.practice.lane";
const BEST = "tallywire.practice.best";
/** Scores of so many lanes are kept. */
const MOST = 100;

/**
 * @param {StoragePort} storage
 * @returns {Made | undefined} undefined: there is none
 */
export function lastLane(storage) {
  return read(storage, LANE, undefined);
}

/**
 * @param {StoragePort} storage
 * @param {Made} made
 */
export function keepLane(storage, made) {
  write(storage, LANE, made);
}

/**
 * The score to beat.
 *
 * @param {StoragePort} storage
 * @param {Tried} tried
 * @returns {number | undefined} undefined: nobody has tried on this browser
 */
export function bestScore(storage, tried) {
  return scores(storage).find(([name]) => name === nameOf(tried))?.[1];
}

/**
 * @param {StoragePort} storage
 * @param {Tried} tried
 * @param {number} score
 */
export function keepScore(storage, tried, score) {
  const others = scores(storage).filter(([name]) => name !== nameOf(tried));
  write(storage, BEST, [...others, [nameOf(tried), Math.max(score, bestScore(storage, tried) ?? 0)]].slice(-MOST));
}

/** @param {Tried} tried */
function nameOf({ workout, lane, seed, minutes }) {
  return JSON.stringify([workout, lane, seed, minutes]);
}

/**
 * @param {StoragePort} storage
 * @returns {[string, number][]}
 */
function scores(storage) {
  return read(storage, BEST, []);
}

/**
 * @param {StoragePort} storage
 * @param {string} key
 * @param {any} otherwise
 */
function read(storage, key, otherwise) {
  try {
    return JSON.parse(storage.getItem(key) ?? "null") ?? otherwise;
  } catch {
    return otherwise; // a torn write
  }
}

/**
 * @param {StoragePort} storage
 * @param {string} key
 * @param {object} value
 */
function write(storage, key, value) {
  try {
    storage.setItem(key, JSON.stringify(value));
  } catch {
    // A full store keeps the next one, or none: practising goes on.
  }
}
