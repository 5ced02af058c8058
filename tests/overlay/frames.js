/** Frames for the tests of the pictures' pure modules. */

import { eventOf } from "./events.js";

const STATIONS = [
  { movement: "Haul", amount: 1, expected_ms: 15_000 },
  { movement: "Touches", amount: 40, credit: "block", expected_ms: 45_000 },
  { movement: "Clean", amount: 10, expected_ms: 30_000 },
  { movement: "Step-over", amount: 10, expected_ms: 30_000 },
];

/** Five rounds of 22 (common practice, no source), two minutes each as expected. */
export const FIVE = eventOf(Array(5).fill(STATIONS), { laps: 1 });
/** The same round until the time is up. */
export const AGAIN = eventOf([STATIONS], {});

/**
 * @param {number} lane
 * @param {object} [given] what differs from a lane that has done nothing
 */
export function laneOf(lane, given = {}) {
  const start = { round: 1, station: 1, movement: "Haul", station_done: 0, station_amount: 1, next_mark: 1, round_mark: 22 };
  const count = { scored_reps: 0, done: 0, gap_leader: 0, gap_next: 0, no_reps: 0, reached_ms: 0 };
  const who = { lane, entry: `e${lane}`, name: `Name ${lane}`, short: `N${lane}`, home: "Hall", division: "w" };
  const made = { ...who, ...start, ...count, status: "working", place: lane, shared: false, points: 0, splits: {}, ...given };
  return { result: `${made.scored_reps} reps`, ...made };
}

/**
 * @param {object[]} lanes in running order
 * @param {object} [given] what differs from a running heat
 */
export function frameOf(lanes, given = {}) {
  return {
    view: "heat",
    competition: { name: "Cup" },
    divisions: { w: { name: "Women" } },
    event: FIVE,
    heat: { id: "h1", name: "Heat 1", status: "running" },
    clock: { cap_ms: 900_000, zero_unix_ms: 0, zero_at_ms: 0 },
    leader: lanes.some((lane) => lane.done > 0) ? { lane: lanes[0].lane, round: lanes[0].round } : {},
    order: lanes.map((lane) => lane.lane),
    lanes: Object.fromEntries(lanes.map((lane) => [String(lane.lane), lane])),
    ...given,
  };
}
