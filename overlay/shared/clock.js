/** The server's clock as seen from a page, and the heat clock that runs on it. Times are milliseconds. */

/** RFC 5905 §10 keeps the last eight samples and trusts the one with the least delay. */
const FILTER_STAGES = 8;
/** Two sound samples may differ by this much more than their error bounds (clocks are read in whole milliseconds). */
const READING_MS = 5;

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
 * @typedef {object} ClockSync
 * @property {(t1: number, t2: number, t3: number, t4: number) => void} sample take one ping and its pong
 * @property {() => number} offsetMs server clock less ours; 0 until a sample is in
 * @property {() => number | undefined} errorMs how far off the offset can be; undefined until a sample is in
 * @property {() => void} reset forget every sample
 */

/**
 * Keep the sample with the least round trip among the last eight.
 *
 * @returns {ClockSync}
 */
export function createClockSync() {
  /** @type {{offset: number, trip: number}[]} */
  let samples = [];
  const best = () => samples.reduce((a, b) => (b.trip <= a.trip ? b : a));
  return {
    sample(t1, t2, t3, t4) {
      const taken = { offset: offsetMs(t1, t2, t3, t4), trip: roundTripMs(t1, t2, t3, t4) };
      // A sample that contradicts the best one means that a clock was set: the old samples speak of another clock.
      if (samples.length && contradicts(taken, best())) samples = [];
      samples = [...samples, taken].slice(-FILTER_STAGES);
    },
    offsetMs: () => (samples.length ? best().offset : 0),
    errorMs: () => (samples.length ? best().trip / 2 : undefined),
    reset() {
      samples = [];
    },
  };
}

/**
 * @param {{offset: number, trip: number}} a
 * @param {{offset: number, trip: number}} b
 */
function contradicts(a, b) {
  return Math.abs(a.offset - b.offset) > (a.trip + b.trip) / 2 + READING_MS;
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
