/**
 * Lanes that must not be seen. A medical hold takes a lane off the air at once, however far behind the output is; after
 * its release the lane comes back with the first picture made since, never with one from before the hold. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

export class OffAir {
  /** @type {Map<number, number>} lane → shown only from what was made at this wall time on */
  #until = new Map();

  /**
   * Take the newest list of lanes on hold, as it comes, without any delay.
   *
   * @param {readonly number[]} held
   * @param {number} unixMs when the list was made
   */
  take(held, unixMs) {
    for (const [lane, until] of this.#until) if (until === Infinity && !held.includes(lane)) this.#until.set(lane, unixMs);
    for (const lane of held) this.#until.set(lane, Infinity);
  }

  /**
   * Give a frame without the lanes that are off the air.
   *
   * @param {HeatFrame} frame
   * @param {number} madeMs when it was made
   * @returns {HeatFrame}
   */
  strip(frame, madeMs) {
    const gone = Object.keys(frame.lanes).filter((lane) => madeMs < (this.#until.get(Number(lane)) ?? 0));
    if (!gone.length) return frame;
    const lanes = Object.fromEntries(Object.entries(frame.lanes).filter(([lane]) => !gone.includes(lane)));
    const order = frame.order.filter((lane) => lanes[lane]);
    const first = order.length ? lanes[order[0]] : undefined;
    return { ...frame, lanes, order, leader: first?.done ? { lane: first.lane, round: first.round } : {} };
  }
}
