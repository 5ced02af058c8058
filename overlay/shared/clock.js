/** The server's clock as seen from a page, and the heat clock that runs on it. Times are milliseconds. */

/** So many samples are kept: ten minutes of one every ten seconds. */
const SAMPLES = 64;
/** Two sound samples may differ by this much more than their error bounds (clocks are read in whole milliseconds). */
const READING_MS = 5;
/** How fast two clocks may drift apart until it is measured; RFC 5905 §7.2 takes 15 ppm, a cheap phone has up to 50. */
const DRIFT_MOST = 100e-6;
/** What is left of a drift that was measured: the clocks change with the temperature. */
const DRIFT_REST = 20e-6;
/** A drift is measured over this long at least, */
const DRIFT_SPAN_MS = 120_000;
/** and from samples whose round trip is at most this much longer than the shortest. */
const DRIFT_TRIP_MS = 4;
const DRIFT_SAMPLES = 5;

/**
 * How far the server's clock is ahead of ours (RFC 5905 §8): θ = ((T2 − T1) + (T3 − T4)) / 2.
 *
 * @param {number} t1 request left us, our clock
 * @param {number} t2 request reached the server, its clock
 * @param {number} t3 answer left the server, its clock
 * @param {number} t4 answer reached us, our clock
 * @returns {number}
 */
export function offsetMs(t1, t2, t3, t4) {
  return (t2 - t1 + (t3 - t4)) / 2;
}

/**
 * The time on the way, there and back (RFC 5905 §8): δ = (T4 − T1) − (T3 − T2). The offset is at most δ / 2 off.
 *
 * @param {number} t1
 * @param {number} t2
 * @param {number} t3
 * @param {number} t4
 * @returns {number}
 */
export function roundTripMs(t1, t2, t3, t4) {
  return t4 - t1 - (t3 - t2);
}

/**
 * @typedef {object} Sample
 * @property {number} offset server clock less ours
 * @property {number} trip
 * @property {number} at when it came, our clock
 *
 * @typedef {object} ClockSync
 * @property {(t1: number, t2: number, t3: number, t4: number) => void} sample take one ping and its pong
 * @property {(nowMs: number) => number | undefined} offsetMs server clock less ours; undefined until a sample is in
 * @property {(nowMs: number) => number | undefined} errorMs how far off the offset can be; undefined until a sample is in
 */

/**
 * Follow the server's clock with one of our own that is never set: the sample with the least possible error counts
 * until a better one comes (RFC 5905 §10 filters for the shortest round trip, and lets an error grow with age).
 *
 * @returns {ClockSync}
 */
export function createClockSync() {
  /** @type {Sample[]} */
  let samples = [];
  let drift = /** @type {number | undefined} */ (undefined);
  const error = (/** @type {Sample} */ { trip, at }, /** @type {number} */ nowMs) =>
    trip / 2 + Math.abs(nowMs - at) * (drift === undefined ? DRIFT_MOST : DRIFT_REST);
  const best = (/** @type {number} */ nowMs) => samples.reduce((a, b) => (error(b, nowMs) <= error(a, nowMs) ? b : a));
  const offset = (/** @type {number} */ nowMs) => best(nowMs).offset + (drift ?? 0) * (nowMs - best(nowMs).at);
  return {
    sample(t1, t2, t3, t4) {
      const taken = { offset: offsetMs(t1, t2, t3, t4), trip: roundTripMs(t1, t2, t3, t4), at: t4 };
      if (taken.trip < 0) return; // no clocks that run forwards give this
      // A sample that no error bound explains means that a clock was set or slept: the others speak of another clock.
      if (samples.length && Math.abs(taken.offset - offset(t4)) > taken.trip / 2 + error(best(t4), t4) + READING_MS) {
        [samples, drift] = [[], undefined];
      }
      samples = [...samples, taken].slice(-SAMPLES);
      drift = driftOf(samples);
    },
    offsetMs: (nowMs) => (samples.length ? offset(nowMs) : undefined),
    errorMs: (nowMs) => (samples.length ? error(best(nowMs), nowMs) : undefined),
  };
}

/**
 * How fast the server's clock gains on ours: the slope of a line through the offsets of the quickest samples.
 *
 * @param {Sample[]} samples
 * @returns {number | undefined} undefined: too few, or over too short a time
 */
function driftOf(samples) {
  const least = Math.min(...samples.map(({ trip }) => trip));
  const quick = samples.filter(({ trip }) => trip <= least + DRIFT_TRIP_MS);
  if (quick.length < DRIFT_SAMPLES || quick[quick.length - 1].at - quick[0].at < DRIFT_SPAN_MS) return undefined;
  const mean = (/** @type {(each: Sample) => number} */ of) => quick.reduce((sum, each) => sum + of(each), 0) / quick.length;
  const [at, offset] = [mean((each) => each.at), mean((each) => each.offset)];
  const slope = mean((each) => (each.at - at) * (each.offset - offset)) / mean((each) => (each.at - at) ** 2);
  return Math.max(-DRIFT_MOST, Math.min(DRIFT_MOST, slope));
}

/**
 * What the heat clock shows: undefined before the start, never past the cap or the end of the heat.
 *
 * @param {import("./types.js").ClockData} clock
 * @param {number} speed how fast the heat clock runs; 1 when live
 * @param {number} unixNowMs the server's wall time now
 * @returns {number | undefined}
 */
export function heatClockMs(clock, speed, unixNowMs) {
  if (clock.zero_unix_ms === undefined) return undefined;
  const ran = (clock.zero_at_ms ?? 0) + (unixNowMs - clock.zero_unix_ms) * speed;
  return Math.max(0, Math.round(Math.min(ran, clock.cap_ms, clock.ended_ms ?? Infinity)));
}
