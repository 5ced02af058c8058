/**
 * Which tap was meant for which moment: one for one, in order, at the least cost. A pair costs as many milliseconds as
 * its tap came late or early; a moment without a tap, and a tap without a moment, cost half of the longest wait each. So
 * nothing is paired that is further apart than that, and no other pairing of the same two lists costs less. Pure.
 *
 * @typedef {{early_ms: number, late_ms: number}} Window a tap may come so much before its moment, and so much after it
 * @typedef {[number, number]} Pair the indices of a moment and of its tap
 */

/**
 * @param {readonly number[]} moments in order
 * @param {readonly number[]} taps in order
 * @param {Window} window
 * @returns {Pair[]}
 */
export function matched(moments, taps, window) {
  const costs = costsOf(moments, taps, window);
  /** @type {Pair[]} */
  const pairs = [];
  let [moment, tap] = [0, 0];
  while (moment < moments.length && tap < taps.length) {
    const here = costs[moment][tap];
    if (here === costs[moment + 1][tap + 1] + pairCost(taps[tap] - moments[moment], window)) pairs.push([moment++, tap++]);
    else if (here === costs[moment + 1][tap] + window.late_ms / 2) moment += 1;
    else tap += 1;
  }
  return pairs;
}

/**
 * What it costs at least to pair what is left from each moment and each tap on.
 *
 * @param {readonly number[]} moments
 * @param {readonly number[]} taps
 * @param {Window} window
 */
function costsOf(moments, taps, window) {
  const alone = window.late_ms / 2;
  const costs = Array.from({ length: moments.length + 1 }, (_, moment) => {
    const row = new Float64Array(taps.length + 1);
    row[taps.length] = (moments.length - moment) * alone;
    return row;
  });
  for (let tap = taps.length - 1; tap >= 0; tap -= 1) costs[moments.length][tap] = (taps.length - tap) * alone;
  for (let moment = moments.length - 1; moment >= 0; moment -= 1) {
    for (let tap = taps.length - 1; tap >= 0; tap -= 1) {
      const pair = costs[moment + 1][tap + 1] + pairCost(taps[tap] - moments[moment], window);
      costs[moment][tap] = Math.min(pair, costs[moment + 1][tap] + alone, costs[moment][tap + 1] + alone);
    }
  }
  return costs;
}

/**
 * @param {number} lag
 * @param {Window} window
 */
function pairCost(lag, { early_ms, late_ms }) {
  return lag < -early_ms || lag > late_ms ? Infinity : Math.abs(lag);
}
