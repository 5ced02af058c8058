/**
 * The gap feed: what a commentator reads in one glance, by keyboard alone if they like.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/standing.js").Group} Group
 */

import { createCalm } from "../shared/calm.js";
import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { drawLine } from "../shared/drawline.js";
import { fitName, refitAll } from "../shared/fit.js";
import { clockText } from "../shared/format.js";
import { watchLive } from "../shared/live.js";
import { divisionRow, laneRow } from "../shared/lanerows.js";
import { groups, hasLongFigures, isLift, leads, limitText, lookOf, roundText } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";
import { createFeed } from "./feed.js";
import { cellTexts, detailText, divisionText, toBeatText } from "./words.js";

const THEME_KEY = "tallywire.gaps.theme";

const desk = part(document, "desk");
const table = /** @type {HTMLTableElement} */ (part(desk, "sheet").querySelector("table"));
const feed = createFeed();
/** @type {HeatFrame | undefined} */
let shown;
let clockMs = 0;
/** The lane that is followed. @type {number | undefined} */
let followed;

setTheme(localStorage.getItem(THEME_KEY) ?? (matchMedia("(prefers-color-scheme: light)").matches ? "daylight" : "dark"));
listen();
await document.fonts.load("600 19px Asap", "Aā0");
run();

function run() {
  /** @type {Date | undefined} */
  let heardAt;
  const take = createCalm((frame) => {
    shown = frame;
    draw(frame);
  });
  watchLive("gaps", {
    frame(frame) {
      heardAt = new Date();
      take(frame);
    },
    tick(now, frame) {
      clockMs = now ?? 0;
      setText(part(desk, "clock"), clockText(clockMs));
      setText(part(desk, "cap"), ` ${limitText(frame)}`);
    },
    link({ up }) {
      setAttr(part(desk, "link"), "data-down", !up);
      setText(part(desk, "link"), up ? "Connected" : `Reconnecting${heardAt ? `: last numbers ${heardAt.toLocaleTimeString("en-GB")}` : ""}`);
    },
  });
}

/** @param {HeatFrame} frame */
function draw(frame) {
  const found = groups(frame);
  drawHead(frame);
  setAttr(part(desk, "empty"), "hidden", found.length > 0);
  setAttr(desk, "data-long", hasLongFigures(frame));
  setAttr(table, "hidden", found.length === 0);
  setText(part(desk, "empty"), "No lanes in this heat");
  setVar(desk, "--rows", String(Object.keys(frame.lanes).length + (found.length > 1 ? found.length : 0)));
  const byDivision = new Map(found.map((group) => [group.division, group]));
  drawBodies(frame, byDivision);
  drawDetail(frame);
  drawFeed(frame);
}

/** @param {HeatFrame} frame */
function drawHead(frame) {
  const heat = [frame.competition.name, frame.heat.name].filter(Boolean).join(" · ");
  fitName(part(desk, "event"), frame.event.name, frame.event.name);
  fitName(part(desk, "heat"), heat, frame.heat.name);
  setAttr(part(desk, "rehearsal"), "hidden", frame.mode !== "rehearsal");
  setText(part(desk, "leader"), leaderText(frame));
  setText(part(desk, "in-event"), frame.event.part ?? "In the event");
}

/** @param {HeatFrame} frame */
function leaderText(frame) {
  if (frame.heat.status === "waiting") return "Waiting for the start";
  if (frame.heat.status === "over") return "Heat over";
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  const found = groups(frame);
  return [roundText(frame.event, leader), found.length === 1 ? toBeatText(found[0]) : ""].filter(Boolean).join(" · ");
}

/**
 * One table body for every division; its name stands over it where there are several.
 *
 * @param {HeatFrame} frame
 * @param {Map<string, Group>} byDivision
 */
function drawBodies(frame, byDivision) {
  const bodies = /** @type {HTMLElement} */ (table.tBodies[0] ?? table.createTBody());
  const keys = [...byDivision.values()].flatMap((group) => [
    ...(byDivision.size > 1 ? [`division ${group.division}`] : []),
    ...group.lanes.map((lane) => `lane ${lane.lane}`),
  ]);
  const makeRow = (/** @type {string} */ key) => (key.startsWith("lane") ? laneRow() : divisionRow());
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const work = layOut(frame.event, rounds);
  keyedChildren(bodies, keys, makeRow, (row, key) => {
    const id = key.slice(key.indexOf(" ") + 1);
    const lane = key.startsWith("lane") ? frame.lanes[id] : undefined;
    if (lane) drawRow(row, frame, lane, { work, at: along(frame.event, lane, rounds) });
    else setText(/** @type {Element} */ (row.firstElementChild), divisionText(byDivision.get(id)));
  });
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {{work: import("../shared/workline.js").WorkLine, at: number}} line
 */
function drawRow(row, frame, lane, { work, at }) {
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setAttr(row, "data-followed", lane.lane === followed);
  for (const [name, text] of Object.entries(cellTexts(frame, lane))) setText(part(row, name), text);
  setAttr(part(row, "meaning"), "data-round", lane.next_mark === lane.round_mark && !isLift(frame.event));
  drawLine(part(row, "line"), work, at, lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short); // last: it measures, and what is drawn after that would slide in
}

/** @param {HeatFrame} frame */
function drawDetail(frame) {
  const lane = followed === undefined ? undefined : frame.lanes[followed];
  setAttr(part(desk, "detail"), "data-quiet", !lane);
  setText(part(desk, "detail"), lane ? detailText(frame, lane) : "Arrow keys follow a lane: where from, and what each round took");
}

/** @param {HeatFrame} frame */
function drawFeed(frame) {
  const lines = new Map(feed(frame, clockMs).map((line) => [line.key, line]));
  keyedChildren(part(desk, "lines"), [...lines.keys()], makeLine, (element, key) => {
    const line = /** @type {import("./feed.js").Line} */ (lines.get(key));
    setAttr(element, "data-kind", line.kind);
    setText(part(element, "at"), clockText(line.at_ms));
    setText(part(element, "text"), line.text);
  });
}

function makeLine() {
  const line = document.createElement("li");
  for (const name of ["at", "text"]) {
    const child = document.createElement("span");
    child.className = `feed-${name}`;
    child.dataset.part = name;
    line.append(child);
  }
  return line;
}

function listen() {
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !act(event.key)) return;
    event.preventDefault();
  });
  desk.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-key]") : null;
    if (button instanceof HTMLElement) act(button.dataset.key ?? "");
  });
  addEventListener("resize", () => {
    refitAll();
    if (shown) draw(shown);
  });
}

/**
 * @param {string} key
 * @returns {boolean} whether the key means anything here
 */
function act(key) {
  if (key === "d") toggleTheme();
  else if (key === "f") part(desk, "feed").toggleAttribute("hidden");
  else if (key === "ArrowDown" || key === "j") follow(1);
  else if (key === "ArrowUp" || key === "k") follow(-1);
  else if (key === "Escape") followed = undefined;
  else return false;
  refitAll();
  if (shown) draw(shown);
  return true;
}

/** @param {1 | -1} step down or up the order */
function follow(step) {
  if (!shown) return;
  const order = groups(shown).flatMap((group) => group.lanes.map((lane) => lane.lane));
  const at = followed === undefined ? (step > 0 ? -1 : order.length) : order.indexOf(followed);
  followed = order[Math.min(order.length - 1, Math.max(0, at + step))];
}

function toggleTheme() {
  const theme = document.documentElement.dataset.theme === "daylight" ? "dark" : "daylight";
  setTheme(theme);
  localStorage.setItem(THEME_KEY, theme);
}

/** @param {string} theme */
function setTheme(theme) {
  document.documentElement.dataset.theme = theme;
  setText(part(desk, "other-theme"), theme === "daylight" ? "dark" : "daylight");
}
