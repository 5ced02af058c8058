/**
 * What the cells of the gap feed say. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/standing.js").Group} Group
 */

import { behindText } from "../commentary/behind.js";
import { formatOf, resultText } from "../formats/registry.js";
import { clockText, isolate, placeFigure } from "../shared/format.js";
import { say } from "../shared/say.js";
import { figureText, isDone, isOut, placeText, scoreBehindText } from "../shared/standing.js";
import { roundEnd } from "./feed.js";

/**
 * Every cell of a lane's row, by the name of its part.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {Record<string, string | number>}
 */
export function cellTexts(frame, lane) {
  const started = frame.heat.status !== "waiting";
  const counts = started && !isOut(lane);
  const works = !isDone(lane);
  return {
    place: placeText(frame, lane),
    lane: lane.lane,
    figure: started ? figureText(lane) : "",
    "leader-reps": counts ? scoreBehindText(frame, lane, lane.behind?.leader?.reps ?? lane.gap_leader) : "",
    "leader-time": counts ? behindText(lane.behind?.leader) : "",
    "ahead-reps": counts ? scoreBehindText(frame, lane, lane.behind?.next?.reps ?? lane.gap_next) : "",
    "ahead-time": counts ? behindText(lane.behind?.next) : "",
    next: works && formatOf(frame.event).marks ? lane.next_mark : "",
    meaning: works ? meaningOf(frame, lane) : "",
    "to-next": works ? toNext(lane) : "",
    round: counts ? lane.round : "",
    "to-go": counts ? (lane.reps_to_go ?? "") : "",
    "no-reps": lane.no_reps || "",
    "event-place": counts && lane.in_event ? placeFigure(lane.in_event) : "",
    points: counts ? (lane.points ?? "") : "",
  };
}

/**
 * The best result of the event's other heats, for those of a division.
 *
 * @param {Group} group
 * @returns {string} empty while there is none
 */
export function toBeatText({ lanes }) {
  const best = lanes.find((lane) => lane.in_event?.to_beat !== undefined)?.in_event?.to_beat;
  return best === undefined ? "" : say("gaps.to_beat", { result: resultText(best) });
}

/**
 * What is written over a division where there are several.
 *
 * @param {Group | undefined} group
 */
export function divisionText(group) {
  return group ? [group.name, toBeatText(group)].filter(Boolean).join(" · ") : "";
}

/**
 * What the next cumulative number is the end of: the work, the round, or a station inside the round. In a lift, the
 * attempt that is on.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "next_mark" | "round_mark" | "round" | "movement" | "station_done" | "station_amount">} lane
 * @returns {string}
 */
export function meaningOf(frame, lane) {
  const own = formatOf(frame.event).gaps.meaning(frame.event, lane);
  if (own !== undefined) return own;
  if (lane.next_mark === frame.event.total_scored) return say("plain.finish");
  if (lane.next_mark === lane.round_mark) return say("shared.end_of_round", { round: lane.round });
  return lane.movement.toLowerCase();
}

/**
 * Scored reps to the end of the station: counted at the station, so that penalties and earlier pieces stay out of it.
 *
 * @param {Pick<LaneData, "credit" | "station_done" | "station_amount">} lane
 */
function toNext(lane) {
  return lane.credit === "block" ? 1 : lane.station_amount - lane.station_done;
}

/**
 * A lane's line on the call sheet: where from, and what each round took.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {string}
 */
export function detailText(frame, lane) {
  const times = roundTimes(frame, lane).map((ms, index) => `${index + 1}: ${clockText(ms)}`);
  const rounds = times.length ? say("gaps.rounds", { times: times.join(" · ") }) : say("gaps.no_round");
  return [say("shared.lane", { lane: lane.lane }), isolate(lane.name), lane.home, frame.divisions[lane.division]?.name, rounds].filter(Boolean).join(" · ");
}

/**
 * The time of every complete round, in ms.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "splits" | "round">} lane
 * @returns {number[]}
 */
export function roundTimes(frame, lane) {
  /** @type {number[]} */
  const times = [];
  let before = 0;
  for (let round = 1; round <= lane.round; round += 1) {
    const at = lane.splits[roundEnd(frame.event, round).mark];
    if (at === undefined) break;
    times.push(at - before);
    before = at;
  }
  return times;
}
