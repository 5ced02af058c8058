/**
 * The side of the call and the facts under the sheet.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 */

import { besideCue, briefOf } from "../booth/notes.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { clockText, isolate } from "../shared/format.js";
import { say } from "../shared/say.js";
import { drawTold } from "./booth.js";
import { factsOf } from "./facts.js";
import { chaseText, leadText, overallTexts, unknownText } from "./words.js";

/** How many rows of the overall standing: those who may still lead are among them, and they fit on a laptop. */
const ROWS = 6;

/**
 * Cues that are alive, chases and the overall standing.
 *
 * @param {ParentNode} desk
 * @param {CallFrame} frame
 * @param {number} clockMs
 * @param {import("../booth/types.js").BoothFrame} [booth]
 */
export function drawSide(desk, frame, clockMs, booth) {
  const cues = new Map(frame.cues.filter((cue) => cue.until_ms > clockMs).map((cue) => [cue.key, cue]));
  keyedChildren(part(desk, "lines"), [...cues.keys()], () => stamp(document, "line-template"), (line, key) => {
    setText(part(line, "at"), clockText(cues.get(key)?.at_ms ?? 0));
    setText(part(line, "text"), cues.get(key)?.line ?? "");
    const cue = cues.get(key);
    const { said, caution } = booth && cue ? besideCue(cue, booth) : { said: "", caution: "" };
    tell(part(line, "beside"), said);
    tell(part(line, "caution"), caution);
  });
  setAttr(part(desk, "no-cues"), "hidden", cues.size > 0);
  const chases = frame.chases.map((chase) => chaseText(frame, chase));
  keyedChildren(part(desk, "chases"), chases.map((_, index) => index), () => document.createElement("li"), (line, key) => {
    setText(line, chases[Number(key)]);
  });
  setAttr(part(desk, "no-chases"), "hidden", chases.length > 0);
  drawOverall(desk, frame);
}

/**
 * @param {Element} element hidden while it says nothing
 * @param {string} text
 */
function tell(element, text) {
  setText(element, text);
  setAttr(element, "hidden", !text);
}

/**
 * @param {ParentNode} desk
 * @param {CallFrame} frame
 */
function drawOverall(desk, frame) {
  const divisions = Object.keys(frame.overall);
  keyedChildren(part(desk, "overall"), divisions, () => stamp(document, "overall-template"), (section, division) => {
    const { early, rows, not_worked_out: unknown, elsewhere } = frame.overall[division];
    const head = early ? say("call.overall_early") : say("call.overall_now");
    setText(part(section, "overall-head"), divisions.length > 1 ? `${frame.divisions[division]?.name}: ${head}` : head);
    const lead = leadText(frame, division);
    setText(part(section, "overall-lead"), lead ? say("call.lead_after", { lead }) : elsewhere ? say("call.no_forecast") : "");
    setText(part(section, "overall-unknown"), unknown ? unknownText(unknown) : "");
    const shown = new Map(rows.slice(0, ROWS).map((row) => [row.entry, row]));
    keyedChildren(part(section, "overall-rows"), [...shown.keys()], () => stamp(document, "standing-template"), (line, entry) => {
      const row = shown.get(entry);
      if (!row) return;
      setAttr(line, "data-here", row.lane !== undefined);
      for (const [field, text] of Object.entries(overallTexts(row))) setText(part(line, field), text);
    });
  });
}

/**
 * @param {ParentNode} desk
 * @param {CallFrame} frame
 * @param {number | undefined} number of the lane, or none
 * @param {{booth: import("../booth/types.js").BoothFrame | undefined, mark: import("./booth.js").SetMark}} more
 */
export function drawFacts(desk, frame, number, { booth, mark }) {
  const lane = number === undefined ? undefined : frame.lanes[number];
  setAttr(part(desk, "facts"), "hidden", !lane);
  if (!lane) return;
  const told = booth?.lanes[lane.lane];
  const facts = new Map([...(told ? briefOf(told) : []), ...factsOf(frame, lane)]);
  drawTold(desk, told, mark);
  setText(part(desk, "facts-name"), `${say("shared.lane", { lane: lane.lane })} · ${isolate(lane.name)}`);
  keyedChildren(part(desk, "facts-list"), [...facts.keys()], () => stamp(document, "fact-template"), (line, label) => {
    setText(part(line, "label"), label);
    setText(part(line, "value"), facts.get(label) ?? "");
  });
}
