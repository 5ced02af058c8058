/**
 * Makes the lanes of a frame whole: what the wire leaves out because it follows from the rest of the frame
 * (docs/frames.md, "What is left out"). What the frame does say is kept as it is. Pure.
 *
 * @typedef {import("./types.js").EventData} EventData
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 * @typedef {import("./types.js").LaneData} LaneData
 *
 * @typedef {Partial<LaneData> & Pick<LaneData, "division" | "place" | "scored_reps" | "done">} ShortLane
 *
 * @typedef {object} Around what the other lanes say of a lane
 * @property {boolean} shared
 * @property {number} gap_leader
 * @property {number} gap_next
 *
 * @typedef {object} Known a lane as it came and as it was made whole
 * @property {ShortLane} lane
 * @property {EventData} event
 * @property {Around} around
 * @property {LaneData} whole
 */

import { position } from "./plan.js";

/** Makes the frames of one view of one heat whole. A lane that did not change is the same object again. */
export class Whole {
  /** @type {Map<string, Known>} */
  #known = new Map();

  /**
   * @param {Omit<HeatFrame, "lanes"> & {lanes: Record<string, ShortLane>}} frame as it came
   * @returns {HeatFrame}
   */
  of(frame) {
    const { event, lanes } = frame;
    if (!event?.legs?.length || !lanes) return /** @type {HeatFrame} */ (frame);
    const tables = scoresByPlace(Object.values(lanes));
    /** @type {Map<string, Known>} */
    const known = new Map();
    for (const [name, lane] of Object.entries(lanes)) {
      const [before, around] = [this.#known.get(name), aroundOf(lane, tables.get(lane.division))];
      const same = before && before.lane === lane && before.event === event && isEqual(before.around, around);
      known.set(name, same ? before : { lane, event, around, whole: wholeLane(event, lane, around) });
    }
    this.#known = known;
    return { ...frame, lanes: Object.fromEntries([...known].map(([name, each]) => [name, each.whole])) };
  }
}

/**
 * @param {EventData} event
 * @param {ShortLane} lane
 * @param {Around} around
 * @returns {LaneData}
 */
function wholeLane(event, lane, around) {
  const { leg, station_done, next_mark, round_mark } = position(event, lane.done);
  const { movement, unit, credit, amount } = leg;
  const result = `${lane.scored_reps} reps`;
  const toGo = event.total_scored === undefined ? {} : { reps_to_go: event.total_scored - lane.scored_reps };
  const where = { movement, unit, credit, station_amount: amount, station_done, next_mark, round_mark };
  const whole = /** @type {LaneData} */ ({ ...where, ...around, ...toGo, result, ...lane });
  if (!lane.in_event) return whole;
  const { place, shared } = whole;
  return { ...whole, in_event: Object.assign({ place, shared }, lane.in_event) };
}

/**
 * By division how many lanes have each place, and of those that are not held the most scored reps at it.
 *
 * @param {ShortLane[]} lanes
 * @returns {Map<string, Map<number, {lanes: number, scored: number | undefined}>>}
 */
function scoresByPlace(lanes) {
  const tables = new Map();
  for (const lane of lanes) {
    const table = tables.get(lane.division) ?? new Map();
    const { lanes: count, scored } = table.get(lane.place) ?? { lanes: 0, scored: undefined };
    const most = lane.held ? scored : Math.max(lane.scored_reps, scored ?? 0);
    tables.set(lane.division, table.set(lane.place, { lanes: count + 1, scored: most }));
  }
  return tables;
}

/**
 * @param {ShortLane} lane
 * @param {Map<number, {lanes: number, scored: number | undefined}>} [table]
 * @returns {Around}
 */
function aroundOf({ place, scored_reps }, table = new Map()) {
  const better = [...table].filter(([other, { scored }]) => other < place && scored !== undefined).sort(([a], [b]) => a - b);
  const behind = (/** @type {number} */ index) => Math.max(0, (better.at(index)?.[1].scored ?? scored_reps) - scored_reps);
  return { shared: (table.get(place)?.lanes ?? 0) > 1, gap_leader: behind(0), gap_next: behind(-1) };
}

/**
 * @param {Around} a
 * @param {Around} b
 */
function isEqual(a, b) {
  return a.shared === b.shared && a.gap_leader === b.gap_leader && a.gap_next === b.gap_next;
}
