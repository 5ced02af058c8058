/**
 * The pace chart in numbers: at every mark a lane has passed, how far it was behind the first of the chosen there. Pure.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {object} Point
 * @property {number} x 0 to 1 along the work
 * @property {number} ms behind
 * @property {boolean} round whether a round ends here
 */

import { layOut } from "../shared/workline.js";

/** The chart is as high as the least of these that holds every gap, in seconds. */
const HEIGHTS_S = [10, 20, 30, 60, 90, 120, 180, 240, 300, 600, 1200, 3600];

/**
 * @param {EventData} event
 * @param {readonly Pick<LaneData, "splits">[]} lanes
 * @param {number} rounds on the line
 * @returns {Point[][]} for each lane, in the order of the work, from the start on
 */
export function gapLines(event, lanes, rounds) {
  const marks = marksOf(event, rounds);
  return lanes.map((lane) => [
    { x: 0, ms: 0, round: false },
    ...marks.flatMap(({ mark, x, round }) => {
      if (lane.splits[mark] === undefined) return [];
      const first = Math.min(...lanes.map((each) => each.splits[mark] ?? Infinity));
      return [{ x, ms: lane.splits[mark] - first, round }];
    }),
  ]);
}

/**
 * @param {readonly Point[][]} lines
 * @returns {number} milliseconds
 */
export function heightMs(lines) {
  const most = Math.max(0, ...lines.flat().map((point) => point.ms)) / 1000;
  return (HEIGHTS_S.find((height) => height >= most) ?? most) * 1000;
}

/**
 * Every mark of a line of so many rounds, and where it is.
 *
 * @param {EventData} event
 * @param {number} rounds
 */
function marksOf(event, rounds) {
  const { knots, ticks } = layOut(event, rounds);
  const ends = [...ticks, ...knots.map((knot) => knot.at)].sort((a, b) => a - b);
  const knotsAt = new Set(knots.map((knot) => knot.at));
  let index = 0;
  return Array.from({ length: rounds }, (_, round) => {
    const inLap = (round % event.rounds_a_lap) + 1;
    return event.legs.filter((leg) => leg.round === inLap).map(({ station }) => {
      const x = ends[index++];
      return { mark: `${round + 1}.${station}`, x, round: knotsAt.has(x) };
    });
  }).flat();
}
