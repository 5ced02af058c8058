/**
 * Times at the marks of the work: what two lanes have passed, and how far apart they were there. Pure.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {object} MarkGap
 * @property {number} scored the cumulative number at the mark
 * @property {number} ms how much later the second lane was there; negative: earlier
 */

import { layOut } from "../shared/workline.js";

/**
 * Give the gap at the last mark both lanes have passed; undefined before there is one. Between marks nothing is told.
 *
 * Penalty seconds count on either side, as in every other gap.
 *
 * @param {EventData} event
 * @param {Pick<LaneData, "splits" | "penalty_ms">} first
 * @param {Pick<LaneData, "splits" | "penalty_ms">} second
 * @returns {MarkGap | undefined}
 */
export function lastGap(event, first, second) {
  const passed = Object.keys(first.splits).filter((mark) => second.splits[mark] !== undefined);
  const last = passed.sort((a, b) => scoredAt(event, b) - scoredAt(event, a) || first.splits[b] - first.splits[a])[0];
  if (last === undefined) return undefined;
  const added = (second.penalty_ms ?? 0) - (first.penalty_ms ?? 0);
  return { scored: scoredAt(event, last), ms: second.splits[last] - first.splits[last] + added };
}

/**
 * The cumulative number at a mark.
 *
 * @param {EventData} event
 * @param {string} mark `round.station`
 * @returns {number}
 */
function scoredAt(event, mark) {
  const { lap, leg } = legOf(event, mark);
  return lap * event.lap_scored + (leg?.scored_after ?? 0);
}

/**
 * The rounds a lane has done: when each ended, how long it took, and where its end is on a line of so many rounds.
 *
 * @param {EventData} event
 * @param {Pick<LaneData, "splits">} lane
 * @param {number} rounds
 * @returns {{round: number, at: number, at_ms: number, took_ms: number}[]}
 */
export function roundTimes(event, lane, rounds) {
  let before = 0;
  return layOut(event, rounds).knots.flatMap(({ round, at }) => {
    const at_ms = lane.splits[`${round}.${lastStation(event, round)}`];
    if (at_ms === undefined) return [];
    const took_ms = at_ms - before;
    before = at_ms;
    return [{ round, at, at_ms, took_ms }];
  });
}

/**
 * @param {EventData} event
 * @param {number} round
 */
function lastStation(event, round) {
  const inLap = ((round - 1) % event.rounds_a_lap) + 1;
  return Math.max(...event.legs.filter((leg) => leg.round === inLap).map((leg) => leg.station));
}

/**
 * @param {EventData} event
 * @param {string} mark
 */
function legOf(event, mark) {
  const [round, station] = mark.split(".").map(Number);
  const inLap = ((round - 1) % event.rounds_a_lap) + 1;
  const leg = event.legs.find((each) => each.round === inLap && each.station === station);
  return { lap: Math.floor((round - 1) / event.rounds_a_lap), leg };
}
