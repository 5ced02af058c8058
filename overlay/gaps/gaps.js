/**
 * The gap feed: the gaps in one glance and a running feed of what happened, by keyboard alone if the commentator likes.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

import { CommentaryPage } from "../commentary/page.js";
import { formatOf } from "../formats/registry.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { clockText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { groups, roundText } from "../shared/standing.js";
import { createFeed } from "./feed.js";
import { cellTexts, detailText, divisionText, toBeatText } from "./words.js";

const desk = part(document, "desk");
const feed = createFeed();

/** @type {CommentaryPage<HeatFrame>} */
const page = new CommentaryPage({
  view: "gaps",
  words: {
    cells: cellTexts,
    endsRound: ({ event }, lane) => lane.next_mark === lane.round_mark && formatOf(event).marks,
    division: (_, group) => divisionText(group),
  },
  progress: progressText,
  draw(frame) {
    setText(part(desk, "in-event"), frame.event.part ?? say("gaps.in_event"));
    drawDetail(frame);
    drawFeed(frame);
  },
  keys: { f: () => void part(desk, "feed").toggleAttribute("hidden") },
});
await page.open();

/** @param {HeatFrame} frame */
function progressText(frame) {
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  const found = groups(frame);
  return [roundText(frame.event, leader), found.length === 1 ? toBeatText(found[0]) : "", formatOf(frame.event).remark].filter(Boolean).join(" · ");
}

/** @param {HeatFrame} frame */
function drawDetail(frame) {
  const lane = page.followed === undefined ? undefined : frame.lanes[page.followed];
  setAttr(part(desk, "detail"), "data-quiet", !lane);
  setText(part(desk, "detail"), lane ? detailText(frame, lane) : say("gaps.hint"));
}

/** @param {HeatFrame} frame */
function drawFeed(frame) {
  const lines = new Map(feed(frame, page.clockMs).map((line) => [line.key, line]));
  keyedChildren(part(desk, "lines"), [...lines.keys()], () => stamp(document, "line-template"), (element, key) => {
    const line = /** @type {import("./feed.js").Line} */ (lines.get(key));
    setAttr(element, "data-kind", line.kind);
    setText(part(element, "at"), clockText(line.at_ms));
    setText(part(element, "text"), line.text);
  });
}
