/**
 * The on-air page: a transparent browser source. It picks a view, keeps it on the air calmly when the link is lost, and
 * puts the marks on it that no view may leave out (unofficial, rehearsal).
 *
 *   ?view=heat    a file of views/, without .js
 *   ?heat=floor   a heat id, or whichever heat is on the floor
 *   ?who=leader   who a view about somebody is about, with commas between (who.js)
 *   ?hold=30      seconds to keep the last good picture without a link; 0: for as long as it takes
 *
 * To add a view, put one file into views/ that exports a `view` (below). Nothing else has to know of it.
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
 * @property {(root: HTMLElement, pick: import("./who.js").Pick) => Picture} create
 */

import { createCalm } from "../shared/calm.js";
import { part, setAttr } from "../shared/dom.js";
import { refitAll } from "../shared/fit.js";
import { watchLive } from "../shared/live.js";
import { createPick } from "./who.js";

const HOLD_SECONDS = 30;

/** Nothing on this page may ever show an error on the air: it goes to the console, and the picture stays away. */
start().catch((error) => console.error(error));

async function start() {
  const params = new URLSearchParams(location.search);
  const name = params.get("view") ?? "heat";
  const view = await loadView(name);
  await faces();
  const stage = part(document, "stage");
  setAttr(stage, "data-view", name);
  const picture = view.create(part(stage, "view"), createPick(params.get("who") ?? view.who ?? "leader"));
  setAttr(part(stage, "unofficial"), "hidden", view.official);
  run(view, picture, createHold(stage, holdMs(params)));
}

/**
 * @param {View} view
 * @param {Picture} picture
 * @param {Hold} hold
 */
function run(view, picture, hold) {
  /** @type {HeatFrame | undefined} */
  let shown;
  const draw = (/** @type {HeatFrame} */ frame) => {
    shown = frame;
    setAttr(part(document, "rehearsal"), "hidden", frame.mode !== "rehearsal");
    setAttr(part(document, "stage"), "data-empty", picture.draw(frame) === false);
  };
  const take = createCalm(draw);
  watchLive(view.watch, {
    frame(frame) {
      hold.show();
      take(frame);
    },
    tick: (clockMs) => shown && picture.tick(clockMs, shown),
    link: ({ up }) => (up ? hold.keep() : hold.count()),
  });
  addEventListener("resize", () => {
    refitAll();
    if (shown) picture.draw(shown);
  });
}

/**
 * @param {string} name
 * @returns {Promise<View>}
 */
async function loadView(name) {
  if (!/^[a-z][a-z-]*$/.test(name)) throw new Error(`found view "${name}", expected the name of a file in views/`);
  return (await import(`./views/${name}.js`)).view;
}

/** The face must be there before a name is measured. Latin and its extension are two files. */
function faces() {
  return Promise.all(["600 32px Asap", "700 32px Asap"].map((font) => document.fonts.load(font, "Aā0")));
}

/** @param {URLSearchParams} params */
function holdMs(params) {
  const seconds = Number(params.get("hold") ?? HOLD_SECONDS);
  return Number.isFinite(seconds) && seconds >= 0 ? seconds * 1000 : HOLD_SECONDS * 1000;
}

/**
 * @typedef {object} Hold
 * @property {() => void} show a good frame is here
 * @property {() => void} keep the link is back; the picture stays as it is
 * @property {() => void} count the link is lost; clear when the hold is over
 */

/**
 * Keep the last good picture for a while without a link, then fade it out.
 *
 * @param {HTMLElement} stage
 * @param {number} ms 0: never clear
 * @returns {Hold}
 */
function createHold(stage, ms) {
  /** @type {number | undefined} */
  let timer;
  const keep = () => {
    clearTimeout(timer);
    timer = undefined;
    setAttr(stage, "data-cleared", false);
  };
  return {
    show() {
      keep();
      setAttr(stage, "hidden", false);
    },
    keep,
    count() {
      if (ms > 0) timer ??= setTimeout(() => setAttr(stage, "data-cleared", true), ms);
    },
  };
}
