/**
 * The on-air page: a transparent browser source. It shows what the graphics desk takes on an output, or one view for
 * good, and keeps the picture calm when the link is lost.
 *
 *   ?output=world  what is on programme on that output, with its delay and its hold
 *   &preview       what the desk around this page prepares for that output
 *   ?view=heat     a file of views/, without .js
 *   ?heat=floor    a heat id, or whichever heat is on the floor
 *   ?floor=east    whichever heat is on one of several floors; an output has its own
 *   ?who=leader    who a view about somebody is about, with commas between (who.js)
 *   ?delay=2.4     seconds behind, 0 to 30, for a view without an output
 *   ?ground        an opaque ground in the colour of the mat, for a screen that shows nothing but this page
 *   ?hold=30       seconds to keep the last good picture without a link; 0: for as long as it takes
 *
 * To add a view, put one file into views/ that exports a `view` (below) and name it in the server's catalogue.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Picture
 * @property {(frame: HeatFrame) => boolean | void} draw false when there is nothing to show: the marks go as well
 * @property {(clockMs: number | undefined, frame: HeatFrame) => void} tick before every picture the browser paints
 *
 * @typedef {object} View
 * @property {string} watch the view on the wire that feeds it
 * @property {boolean} official true only for signed results, or nothing of the heat: takes the word "unofficial" off
 * @property {string} [who] who the view is about unless the address says otherwise
 * @property {(root: HTMLElement, pick: import("./who.js").Pick, params: import("../shared/types.js").Params) => Picture} create
 */

import { LONGEST_DELAY_MS } from "../shared/delay.js";
import { part, setAttr } from "../shared/dom.js";
import { refitAll } from "../shared/fit.js";
import { floorName, onItsFloor } from "../shared/floor.js";
import { Feed } from "./feed.js";
import { createHold } from "./hold.js";
import { Player } from "./player.js";

const HOLD_SECONDS = 30;

const params = new URLSearchParams(location.search);
const root = part(document, "air");
const hold = createHold(root, seconds("hold", HOLD_SECONDS) * 1000);
const feed = new Feed(({ up }) => (up ? hold.keep() : hold.count()));
const player = new Player(root, feed);

setAttr(document.documentElement, "data-ground", params.has("ground"));
const output = params.get("output");
if (output === null) showOneView();
else followOutput(output);

addEventListener("resize", () => {
  refitAll();
  player.redraw();
});

function showOneView() {
  const { view = "heat", ...rest } = Object.fromEntries(params);
  feed.delayMs = Math.min(seconds("delay", 0) * 1000, LONGEST_DELAY_MS);
  bring({ view, params: pickOf(rest) });
}

/** @param {string} name */
function followOutput(name) {
  const isPreview = params.has("preview");
  let shown = "";
  player.atOnce = isPreview;
  hold.asks = true; // what was on programme may have changed while the link was lost
  feed.watchLive("show", "floor", (/** @type {import("../shared/types.js").ShowFrame} */ frame) => {
    const found = frame.outputs?.[name];
    feed.delayMs = found?.delay_ms ?? 0;
    if (found && !params.has("hold")) hold.ms = found.hold_ms;
    const next = found?.programme?.id ?? "";
    if (isPreview || next === shown) return hold.answer();
    shown = next;
    bring(onItsFloor(found?.programme, found?.floor)).then(() => hold.answer()); // not before: a picture from before the link was lost is wrong now
  });
  if (isPreview) listenToDesk();
}

/** The desk that holds this page says what to prepare. Nobody else may. */
function listenToDesk() {
  addEventListener("message", ({ origin, source, data }) => {
    if (origin === location.origin && source === parent && data?.type === "prepare") bring(data.item);
  });
  if (parent !== window) parent.postMessage({ type: "ready" }, location.origin);
}

/**
 * Nothing on this page may ever show an error on the air: it goes to the console, and the picture stays as it is.
 *
 * @param {import("../shared/types.js").Item | undefined} item
 */
function bring(item) {
  return player.bring(item).catch((error) => console.error(error));
}

/** @param {Record<string, string>} given */
function pickOf({ who, heat, floor, part }) {
  const asked = heat ?? (floor && floorName(floor));
  return Object.fromEntries(Object.entries({ who, heat: asked, part }).filter(([, value]) => value !== undefined));
}

/**
 * @param {string} name
 * @param {number} usual
 */
function seconds(name, usual) {
  const value = Number(params.get(name) ?? usual);
  return Number.isFinite(value) && value >= 0 ? value : usual;
}
