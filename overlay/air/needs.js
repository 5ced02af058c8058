/**
 * What an athlete needs overall, in words. The server works the answers out; they are exact, whatever the others do.
 * Pure.
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../call/types.js").Stakes} StakesData
 *
 * @typedef {{label: string, rival?: string, value: string}} NeedLine
 */

import { ordinal } from "../shared/say.js";

const REACH = { certain: "safe", possible: "within reach", gone: "out of reach" };

/**
 * @param {HeatFrame} frame the call
 * @param {LaneData} lane
 * @returns {NeedLine[]} empty as long as nothing is known
 */
export function needLines(frame, lane) {
  const { stakes } = lane;
  return stakes ? [...standingLine(frame, lane), ...leadLines(stakes), ...reachLines(stakes), ...beatLines(frame, stakes)] : [];
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {NeedLine[]}
 */
function standingLine(frame, lane) {
  const overall = frame.overall?.[lane.division];
  const row = overall?.rows.find((each) => each.entry === lane.entry);
  if (!overall || !row) return [];
  const before = !row.before || row.place === row.before.place ? "" : `, ${ordinal(row.before.place)} before`;
  return [{ label: overall.early ? "overall, early yet" : "overall as it stands", value: `${ordinal(row.place)} · ${row.total} points${before}` }];
}

/**
 * @param {StakesData} stakes
 * @returns {NeedLine[]}
 */
function leadLines({ clinched, alive, best, clinching, leading }) {
  if (clinched) return [{ label: "leads overall", value: "whatever happens in this event" }];
  if (!alive) return [{ label: "overall lead", value: `out of reach, ${ordinal(best)} at best` }];
  const sure = clinching.length ? [{ label: "leads for certain", value: `with ${placesText(clinching)}` }] : [];
  const more = leading.length > clinching.length ? [{ label: "can still lead", value: `with ${placesText(leading)}` }] : [];
  return [...sure, ...more];
}

/**
 * Podium and cut, where they do not follow from the lead.
 *
 * @param {StakesData} stakes
 * @returns {NeedLine[]}
 */
function reachLines({ clinched, alive, podium, cut, cut_to: size }) {
  const first = !clinched && (!alive || podium === "certain") ? [{ label: "podium", value: REACH[podium] }] : [];
  return !cut || !REACH[cut] || clinched ? first : [...first, { label: `the cut to ${size}`, value: REACH[cut] }];
}

/**
 * A rival on the floor whose lane is off the air is not named.
 *
 * @param {HeatFrame} frame
 * @param {StakesData} stakes
 * @returns {NeedLine[]}
 */
function beatLines(frame, { beat }) {
  const shown = beat.filter(({ lane }) => lane === undefined || frame.lanes[lane]);
  return shown.map(({ short, by, tie_may_break: breaks }) => {
    const but = breaks ? ", ties apart" : "";
    if (by > 0) return { label: "must beat", rival: short, value: `by ${by} ${by === 1 ? "place" : "places"}${but}` };
    if (by === 0) return { label: "must not lose to", rival: short, value: `level is enough${but}` };
    return { label: "may lose to", rival: short, value: `by ${-by} ${by === -1 ? "place" : "places"}${but}` };
  });
}

/**
 * Places in the event: 1st; 1st or 2nd; 1st to 4th; 1st or 3rd to 5th.
 *
 * @param {readonly number[]} places ascending
 * @returns {string}
 */
export function placesText(places) {
  /** @type {[number, number][]} */
  const runs = [];
  for (const place of places) {
    const last = runs.at(-1);
    if (last && last[1] === place - 1) last[1] = place;
    else runs.push([place, place]);
  }
  const texts = runs.map(([from, to]) => {
    if (from === to) return ordinal(from);
    return to === from + 1 ? `${ordinal(from)} or ${ordinal(to)}` : `${ordinal(from)} to ${ordinal(to)}`;
  });
  return texts.join(" or ");
}
