/**
 * Makes the lanes of a frame whole: what the wire leaves out because it follows from the rest of the frame
 * (docs/frames.md, "What the wire leaves out"). What the frame does say is kept as it is. Pure.
 *
 * @typedef {import("./types.js").EventData} EventData
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 * @typedef {import("./types.js").LaneData} LaneData
 *
 * @typedef {Partial<LaneData> & Pick<LaneData, "division" | "done">} ShortLane
 * @typedef {Pick<LaneData, "division" | "held" | "scored_reps" | "place">} Placed what a lane is to the others
 *
 * @typedef {object} Around what a lane and the others say of it
 * @property {number} scored_reps
 * @property {number} place
 * @property {boolean} shared
 * @property {number} gap_leader
 * @property {number} gap_next
 *
 * @typedef {object} Known a lane as it came and as it was made whole
 * @property {ShortLane} lane
 * @property {EventData} event
 * @property {number[]} [worth] what each place in the event is worth
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
    const placed = withPlaces(event, lanes);
    const tables = scoresByPlace([...placed.values()]);
    /** @type {Map<string, Known>} */
    const known = new Map();
    for (const [name, each] of placed) {
      const [lane, worth, before] = [lanes[name], frame.worth?.[each.division], this.#known.get(name)];
      const of = { lane, event, worth, around: aroundOf(each, tables.get(each.division)) };
      known.set(name, before && isSame(before, of) ? before : { ...of, whole: wholeLane(of) });
    }
    this.#known = known;
    return { ...frame, lanes: Object.fromEntries([...known].map(([name, each]) => [name, each.whole])) };
  }
}

/**
 * @param {Omit<Known, "whole">} known
 * @returns {LaneData}
 */
function wholeLane({ lane, event, worth = [], around }) {
  const { leg, station_done, next_mark, round_mark } = position(event, lane.done);
  const { movement, unit, credit, amount } = leg;
  const result = `${around.scored_reps} reps`;
  const toGo = event.total_scored === undefined ? {} : { reps_to_go: event.total_scored - around.scored_reps };
  const where = { movement, unit, credit, station_amount: amount, station_done, next_mark, round_mark };
  const whole = /** @type {LaneData} */ ({ ...where, ...around, ...toGo, result, ...lane });
  if (!lane.in_event) return whole;
  const { place, shared } = whole;
  const in_event = Object.assign({ place, shared }, lane.in_event);
  return { ...whole, in_event, points: lane.points ?? worth[in_event.place - 1] };
}

/**
 * Scored reps and place of each lane: they have to be known of all before anything is measured between two.
 *
 * @param {EventData} event
 * @param {Record<string, ShortLane>} lanes
 * @returns {Map<string, Placed>}
 */
function withPlaces(event, lanes) {
  const counted = Object.entries(lanes).map(([name, { division, held, done, scored_reps, place }]) => {
    return { name, division, held, place, scored_reps: scored_reps ?? position(event, done).scored };
  });
  const placed = counted.map(({ name, division, held, place, scored_reps }) => {
    const ahead = counted.filter((other) => other.division === division && other.scored_reps > scored_reps);
    return /** @type {const} */ ([name, { division, held, scored_reps, place: place ?? ahead.length + 1 }]);
  });
  return new Map(placed);
}

/**
 * By division how many lanes have each place, and of those that are not held the most scored reps at it.
 *
 * @param {Placed[]} lanes
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
 * @param {Placed} lane
 * @param {Map<number, {lanes: number, scored: number | undefined}>} [table]
 * @returns {Around}
 */
function aroundOf({ place, scored_reps }, table = new Map()) {
  const better = [...table].filter(([other, { scored }]) => other < place && scored !== undefined).sort(([a], [b]) => a - b);
  const behind = (/** @type {number} */ index) => Math.max(0, (better.at(index)?.[1].scored ?? scored_reps) - scored_reps);
  return { scored_reps, place, shared: (table.get(place)?.lanes ?? 0) > 1, gap_leader: behind(0), gap_next: behind(-1) };
}

/**
 * @param {Known} before
 * @param {Omit<Known, "whole">} now
 */
function isSame(before, { lane, event, worth, around }) {
  if (before.lane !== lane || before.event !== event || before.worth !== worth) return false;
  const was = Object.values(before.around);
  return Object.values(around).every((value, index) => value === was[index]);
}
