/**
 * What an athlete needs overall, in words. The server works the answers out; they are exact, whatever the others do.
 * Pure.
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../call/types.js").Stakes} StakesData
 *
 * @typedef {{label: string, rival?: string, value: string}} NeedLine
 */

import { amountText } from "../shared/format.js";
import { ordinal, say } from "../shared/say.js";

const REACH = { certain: say("air.reach.certain"), possible: say("air.reach.possible"), gone: say("air.reach.gone") };

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
  const values = { place: ordinal(row.place), points: amountText(row.total, "points") };
  const was = row.before?.place ?? row.place;
  const value = was !== row.place ? say("air.place_points_before", { ...values, before: ordinal(was) }) : say("air.place_points", values);
  return [{ label: overall.early ? say("air.overall_early") : say("air.overall_now"), value }];
}

/**
 * @param {StakesData} stakes
 * @returns {NeedLine[]}
 */
function leadLines({ clinched, alive, best, clinching, leading }) {
  if (clinched) return [{ label: say("air.leads_overall"), value: say("air.whatever") }];
  if (!alive) return [{ label: say("air.overall_lead"), value: say("air.lead_gone", { place: ordinal(best) }) }];
  const sure = clinching.length ? [{ label: say("air.leads_certain"), value: say("air.with_places", { places: placesText(clinching) }) }] : [];
  const more = leading.length > clinching.length ? [{ label: say("air.can_lead"), value: say("air.with_places", { places: placesText(leading) }) }] : [];
  return [...sure, ...more];
}

/**
 * Podium and cut, where they do not follow from the lead.
 *
 * @param {StakesData} stakes
 * @returns {NeedLine[]}
 */
function reachLines({ clinched, alive, podium, cut, cut_to: size }) {
  const first = !clinched && (!alive || podium === "certain") ? [{ label: say("air.podium"), value: REACH[podium] }] : [];
  return !cut || !REACH[cut] || clinched ? first : [...first, { label: say("air.cut", { size: size ?? "" }), value: REACH[cut] }];
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
    const but = (/** @type {string} */ text) => (breaks ? say("air.ties_apart", { text }) : text);
    if (by > 0) return { label: say("air.must_beat"), rival: short, value: but(say("air.by_places", { n: by })) };
    if (by === 0) return { label: say("air.not_lose"), rival: short, value: but(say("air.level_enough")) };
    return { label: say("air.may_lose"), rival: short, value: but(say("air.by_places", { n: -by })) };
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
    return to === from + 1 ? either(ordinal(from), ordinal(to)) : say("air.range", { from: ordinal(from), to: ordinal(to) });
  });
  return texts.reduce(either);
}

/**
 * @param {string} one
 * @param {string} other
 */
function either(one, other) {
  return say("shared.or", { one, other });
}
