/**
 * Who a picture is about. A subject is `4` or `lane:4`, `entry:w07`, `leader`, `place:3`, `battle:3` (the lane on that place
 * and the one behind it) or `finisher` (who came in last); `@men` after leader, place and battle names a division,
 * otherwise it is that of the lowest lane. They are found in the frame itself, so that a card follows the same standing as everything else on the picture.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * `fastest`, and on an output every other subject too, comes from the server's own table of subjects, so that all pages
 * agree; a page without the table finds the rest by itself. A test holds the two to each other.
 *
 * @typedef {(frame: HeatFrame) => LaneData[]} Pick
 * @typedef {Record<string, number[]> | undefined} Table the lanes of each subject
 */

import { floorOrder, groups, isOut, placesCount } from "../shared/standing.js";

/** A card that follows somebody stays with one athlete at least this long: a name must be read before it goes. */
export const FOLLOW_MS = 4000;

/**
 * Give the lanes of the subjects, each once, in the order named. A lane that is not in the frame is nobody.
 *
 * @param {HeatFrame} frame
 * @param {string} who subjects with commas between
 * @param {Table} [table]
 * @returns {LaneData[]}
 */
export function lanesOf(frame, who, table) {
  const found = who.split(",").flatMap((subject) => {
    const lanes = table?.[subject.trim()];
    return lanes ? present(lanes.map((lane) => frame.lanes[lane])) : lanesOfOne(frame, subject.trim());
  });
  return [...new Set(found)];
}

/**
 * Make a pick that does not wander: whom it has shown it keeps for a while, and the same two athletes keep their sides.
 *
 * @param {string} who
 * @param {() => number} [now]
 * @param {() => Table} [table]
 * @returns {Pick}
 */
export function createPick(who, now = () => performance.now(), table = () => undefined) {
  /** @type {number[]} */
  let kept = [];
  let [heat, since] = ["", -Infinity];
  return (frame) => {
    const found = lanesOf(frame, who, table()).map((lane) => lane.lane);
    const stay = frame.heat.id === heat && kept.length === found.length && kept.every((lane) => frame.lanes[lane]);
    const same = found.every((lane) => kept.includes(lane));
    if (!(stay && (same || now() - since < FOLLOW_MS))) [kept, heat, since] = [found, frame.heat.id, now()];
    return kept.map((lane) => frame.lanes[lane]);
  };
}

/**
 * @param {HeatFrame} frame
 * @param {string} subject
 * @returns {LaneData[]}
 */
function lanesOfOne(frame, subject) {
  const [name, division] = subject.split("@");
  const [kind, value] = /^\d+$/.test(name) ? ["lane", name] : name.split(":");
  if (kind === "lane") return present([frame.lanes[value]]);
  if (kind === "entry") return Object.values(frame.lanes).filter((lane) => lane.entry === value);
  if (kind === "finisher") return present([finished(frame).at(-1)]);
  const lanes = standing(frame, division);
  const first = kind === "leader" ? 0 : Number(value) - 1;
  return kind === "leader" || kind === "place" ? present([lanes[first]]) : kind === "battle" ? battle(lanes, first) : [];
}

/**
 * Those who have a place in a division, best first; nobody before the first rep.
 *
 * @param {HeatFrame} frame
 * @param {string | undefined} division
 */
function standing(frame, division) {
  if (!placesCount(frame)) return [];
  const wanted = division ?? floorOrder(frame)[0]?.division;
  const group = groups(frame).find((each) => each.division === wanted);
  return group ? group.lanes.filter((lane) => !isOut(lane)) : [];
}

/**
 * Those who have finished, in the order they came in.
 *
 * @param {HeatFrame} frame
 */
function finished(frame) {
  const lanes = Object.values(frame.lanes).filter((lane) => lane.status === "finished");
  return lanes.sort((a, b) => a.reached_ms - b.reached_ms);
}

/**
 * @param {LaneData[]} lanes
 * @param {number} first
 */
function battle(lanes, first) {
  const pair = present([lanes[first], lanes[first + 1]]);
  return pair.length === 2 ? pair : [];
}

/** @param {(LaneData | undefined)[]} lanes */
function present(lanes) {
  return /** @type {LaneData[]} */ (lanes.filter((lane) => lane !== undefined));
}
