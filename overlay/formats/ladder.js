/**
 * A ladder: bars of rising load, each with a window in which it has to be complete.
 *
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./format.js").CallLane} CallLane
 */

import { clockText } from "../shared/format.js";
import { makeFormat, ownField, PLAIN, repsText } from "./plain.js";

/**
 * The lane's bar, and from when until when it is open.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {{bar: number, opens_ms: number, closes_ms: number} | undefined} undefined: all bars are complete
 */
function barOf(event, done) {
  const index = event.legs.findIndex((leg) => done < leg.done_after);
  const window_ms = ownField(event, "ladder")?.window_ms ?? Infinity;
  return index < 0 ? undefined : { bar: index + 1, opens_ms: index && index * window_ms, closes_ms: (index + 1) * window_ms };
}

/**
 * The bar in hand and its load: bar 5 of 8, 120 kg.
 *
 * @param {EventData} event
 * @param {CallLane} lane
 */
function barText({ legs }, lane) {
  const at = legs.findIndex((leg) => leg.done_after > lane.done);
  const load = legs[at]?.loads[lane.division];
  return at < 0 ? "" : `bar ${at + 1} of ${legs.length}${load ? `, ${load}` : ""}`;
}

/**
 * @param {EventData} event
 * @param {number} reps scored
 */
function barsText({ legs }, reps) {
  const bars = legs.filter((leg) => leg.scored_after <= reps).length;
  const into = reps - (bars ? legs[bars - 1].scored_after : 0);
  return `${bars}\u00a0${bars === 1 ? "bar" : "bars"}${into ? ` + ${into}` : ""}`;
}

export const LADDER = makeFormat({
  title: "Ladder",
  pad: {
    where(moment) {
      const bar = barOf(moment.event, moment.count.done);
      return bar ? `bar ${bar.bar} of ${moment.event.legs.length} · until ${clockText(bar.closes_ms)}` : PLAIN.pad.where(moment);
    },
    lock(event, { done }, clockMs) {
      const bar = barOf(event, done);
      if (!bar || (clockMs >= bar.opens_ms && clockMs <= bar.closes_ms)) return undefined;
      if (clockMs < bar.opens_ms) return { text: `Bar ${bar.bar} is open from ${clockText(bar.opens_ms)}`, calm: true };
      return { text: `Out: the window of bar ${bar.bar} closed at ${clockText(bar.closes_ms)}`, calm: true };
    },
  },
  call: {
    meaning: barText,
    ends: (event, outlook) =>
      PLAIN.call.ends(event, outlook).map(([spread, write]) => [spread, write === repsText ? (reps) => barsText(event, reps) : write]),
  },
});
