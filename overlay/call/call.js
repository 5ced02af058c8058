/**
 * The call: all lanes in one glance, the newest cues, the overall lead, and facts on request. A tap on a row does what
 * the arrow keys and Enter do.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 */

import { BoothLink } from "../booth/link.js";
import { CommentaryPage } from "../commentary/page.js";
import { formatOf } from "../formats/registry.js";
import { keyedChildren, part, setText } from "../shared/dom.js";
import { heatAsked } from "../shared/floor.js";
import { keyFrom } from "../shared/key.js";
import { memoryStorage } from "../shared/queue.js";
import { say } from "../shared/say.js";
import { isDone, roundText } from "../shared/standing.js";
import { drawBooth } from "./booth.js";
import { drawFacts, drawSide } from "./side.js";
import { cellTexts, endHead, toBeatText } from "./words.js";

/** Below this chance of making the cap, a lane is marked as in danger of it. */
const RISK = 0.5;

const desk = part(document, "desk");
let open = false;
/** @type {CallFrame | undefined} */
let shown;
/** Only with a commentator's link: without one this is the call that anybody may see. */
const booth = openBooth(keyFrom(location));

/** @type {CommentaryPage<CallFrame>} */
const page = new CommentaryPage({
  view: "call",
  words: {
    cells: cellTexts,
    endsRound: (_, { mark }) => mark !== undefined && mark.ends !== "station",
    division: (_, group) => group.name,
    atRisk,
  },
  progress: ({ event, leader, lanes }) => {
    const where = roundText(event, leader.lane === undefined ? undefined : lanes[leader.lane]);
    return [where, formatOf(event).remark].filter(Boolean).join(" · ");
  },
  draw,
  tick(frame, beforeMs) {
    if (Math.floor(beforeMs / 1000) !== Math.floor(page.clockMs / 1000)) drawSide(desk, frame, page.clockMs, told(frame));
  },
  keys: { Enter: toggleFacts, Escape: closeFacts },
  choose,
});
await page.open();

/**
 * @param {CallFrame} _
 * @param {CallLane} lane
 */
function atRisk(_, lane) {
  const inside = lane.outlook?.inside_cap;
  return inside !== undefined && !isDone(lane) && inside < RISK;
}

/** @param {CallFrame} frame */
function draw(frame) {
  shown = frame;
  setText(part(desk, "end-head"), endHead(frame));
  drawTargets(frame);
  drawSides(frame);
}

/** @param {CallFrame} frame */
function drawSides(frame) {
  drawFacts(desk, frame, open ? page.followed : undefined, { booth: told(frame), mark });
  drawSide(desk, frame, page.clockMs, told(frame));
  if (booth) drawBooth(desk, booth, { followed: page.followed, mark });
}

/** @param {string | undefined} key of a commentator's link */
function openBooth(key) {
  const changed = () => shown && drawSides(shown);
  // What is marked while the link is away waits as long as the page is open.
  return key ? new BoothLink({ role: "commentator", key, heat: heatAsked(new URLSearchParams(location.search)), storage: memoryStorage(), changed }) : undefined;
}

/**
 * What the booth is told of the heat that is shown.
 *
 * @param {CallFrame} frame
 */
function told({ heat }) {
  return booth?.frame?.heat.id === heat.id ? booth.frame : undefined;
}

/**
 * Pin, dismiss or put back, for every commentator.
 *
 * @param {string} item
 * @param {import("../booth/types.js").Mark} mark
 * @param {number | undefined} lane
 */
function mark(item, mark, lane) {
  booth?.say({ fact: "note_marked", item, mark, unix_ms: booth.unixMs, ...(lane !== undefined && { lane }) });
}

/**
 * The result to beat is shown apart from the places, because it comes from another heat.
 *
 * @param {CallFrame} frame
 */
function drawTargets(frame) {
  const divisions = Object.keys(frame.divisions).filter((division) => frame.to_beat[division]);
  keyedChildren(part(desk, "targets"), divisions, makeTarget, (line, division) => {
    const name = divisions.length > 1 ? frame.divisions[division].name : "";
    setText(/** @type {Element} */ (line.firstElementChild), name ? say("call.to_beat_in", { division: name }) : say("call.to_beat"));
    setText(/** @type {Element} */ (line.lastElementChild), toBeatText(frame, division, frame.to_beat[division].heat));
  });
}

function makeTarget() {
  const line = document.createElement("li");
  line.append(document.createElement("b"), document.createElement("span"));
  return line;
}

function toggleFacts() {
  if (page.followed === undefined) page.follow(1);
  open = !open;
}

function closeFacts() {
  page.followed = undefined;
  open = false;
}

/**
 * A tap on a row opens its facts; a second one closes them.
 *
 * @param {number} lane
 */
function choose(lane) {
  open = page.followed !== lane || !open;
  page.followed = lane;
}
