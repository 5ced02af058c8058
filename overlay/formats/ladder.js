/**
 * A ladder: bars of rising load, each with a window in which it has to be complete.
 *
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./format.js").CallLane} CallLane
 */

import { clockText, loadWords } from "../shared/format.js";
import { say } from "../shared/say.js";
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
  const numbers = { bar: at + 1, bars: legs.length };
  if (at < 0) return "";
  return load ? say("ladder.bar_load", { ...numbers, load: loadWords(load) }) : say("ladder.bar_of", numbers);
}

/**
 * @param {EventData} event
 * @param {number} reps scored
 */
function barsText({ legs }, reps) {
  const bars = legs.filter((leg) => leg.scored_after <= reps).length;
  const into = reps - (bars ? legs[bars - 1].scored_after : 0);
  return barsAnd(bars, into).replace(" ", "\u00a0");
}

/**
 * @param {number} bars complete
 * @param {number} into lifts on the next
 */
function barsAnd(bars, into) {
  return `${say("ladder.bars", { n: bars })}${into ? ` + ${into}` : ""}`;
}

export const LADDER = makeFormat({
  title: say("ladder.title"),
  result(text) {
    const [, bars, into] = /^(\d+) bars?(?: \+ (\d+))?$/.exec(text) ?? [];
    return bars && barsAnd(Number(bars), Number(into ?? 0));
  },
  pad: {
    where(moment) {
      const bar = barOf(moment.event, moment.count.done);
      return bar ? say("ladder.until", { bar: bar.bar, bars: moment.event.legs.length, time: clockText(bar.closes_ms) }) : PLAIN.pad.where(moment);
    },
    lock(event, { done }, clockMs) {
      const bar = barOf(event, done);
      if (!bar || (clockMs >= bar.opens_ms && clockMs <= bar.closes_ms)) return undefined;
      if (clockMs < bar.opens_ms) return { text: say("ladder.opens", { bar: bar.bar, time: clockText(bar.opens_ms) }), calm: true };
      return { text: say("ladder.closed", { bar: bar.bar, time: clockText(bar.closes_ms) }), calm: true };
    },
  },
  call: {
    meaning: barText,
    ends: (event, outlook) =>
      PLAIN.call.ends(event, outlook).map(([spread, write]) => [spread, write === repsText ? (reps) => barsText(event, reps) : write]),
  },
});
