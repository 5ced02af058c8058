/**
 * The commentator's page: all lanes in one glance, the newest cues, the overall lead, and facts on request. Keyboard
 * first; a tap on a row does what the arrows do.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

import { createCalm } from "../shared/calm.js";
import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { drawLine } from "../shared/drawline.js";
import { fitName, refitAll } from "../shared/fit.js";
import { clockText } from "../shared/format.js";
import { watchLive } from "../shared/live.js";
import { divisionRow, laneRow } from "../shared/lanerows.js";
import { groups, hasLongFigures, isDone, leads, limitText, lookOf, roundText } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";
import { drawFacts, drawSide } from "./side.js";
import { cellTexts, endHead, toBeatText } from "./words.js";

const THEME_KEY = "tallywire.gaps.theme";
/** Below this chance the cap is told to be in danger. */
const RISK = 0.5;

const desk = part(document, "desk");
const table = /** @type {HTMLTableElement} */ (part(desk, "sheet").querySelector("table"));
/** @type {CallFrame | undefined} */
let shown;
let clockMs = 0;
/** @type {number | undefined} */
let followed;
let open = false;

setTheme(localStorage.getItem(THEME_KEY) ?? (matchMedia("(prefers-color-scheme: light)").matches ? "daylight" : "dark"));
listen();
await document.fonts.load("600 19px Asap", "Aā0");
run();

function run() {
  /** @type {Date | undefined} */
  let heardAt;
  const take = createCalm((frame) => {
    shown = /** @type {CallFrame} */ (/** @type {unknown} */ (frame));
    draw();
  });
  watchLive("call", {
    frame(frame) {
      heardAt = new Date();
      take(frame);
    },
    tick(now, frame) {
      const before = clockMs;
      clockMs = now ?? 0;
      setText(part(desk, "clock"), clockText(clockMs));
      setText(part(desk, "cap-at"), ` ${limitText(frame)}`);
      if (shown && Math.floor(before / 1000) !== Math.floor(clockMs / 1000)) drawSide(desk, shown, clockMs);
    },
    link({ up }) {
      setAttr(part(desk, "link"), "data-down", !up);
      setText(part(desk, "link"), up ? "Connected" : `Reconnecting${heardAt ? `: last numbers ${heardAt.toLocaleTimeString("en-GB")}` : ""}`);
    },
  });
}

function draw() {
  if (!shown) return;
  const frame = shown;
  const heat = asHeat(frame);
  const found = groups(heat);
  drawHead(frame);
  drawTargets(frame);
  setAttr(part(desk, "empty"), "hidden", found.length > 0);
  setAttr(desk, "data-long", hasLongFigures(heat));
  setAttr(table, "hidden", found.length === 0);
  setText(part(desk, "empty"), "No lanes in this heat");
  setVar(desk, "--rows", String(Object.keys(frame.lanes).length + (found.length > 1 ? found.length : 0)));
  drawFacts(desk, frame, open ? followed : undefined);
  drawSide(desk, frame, clockMs);
  drawRows(frame);
}

/** @param {CallFrame} frame */
function drawHead(frame) {
  const heat = [frame.competition.name, frame.heat.name].filter(Boolean).join(" · ");
  fitName(part(desk, "event"), frame.event.name, frame.event.name);
  fitName(part(desk, "heat"), heat, frame.heat.name);
  setAttr(part(desk, "rehearsal"), "hidden", frame.mode !== "rehearsal");
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  const words = { waiting: "Waiting for the start", over: "Heat over", running: roundText(frame.event, leader) };
  setText(part(desk, "leader"), words[frame.heat.status]);
  setText(part(desk, "end-head"), endHead(frame));
}

/**
 * The time to beat, apart from the places: it comes from another heat.
 *
 * @param {CallFrame} frame
 */
function drawTargets(frame) {
  const divisions = Object.keys(frame.divisions).filter((division) => frame.to_beat[division]);
  keyedChildren(part(desk, "targets"), divisions, makeTarget, (line, division) => {
    const name = divisions.length > 1 ? `, ${frame.divisions[division].name}` : "";
    setText(/** @type {Element} */ (line.firstElementChild), `To beat${name}`);
    setText(/** @type {Element} */ (line.lastElementChild), toBeatText(frame, division, frame.to_beat[division].heat));
  });
}

function makeTarget() {
  const line = document.createElement("li");
  line.append(document.createElement("b"), document.createElement("span"));
  return line;
}

/** @param {CallFrame} frame */
function drawRows(frame) {
  const body = /** @type {HTMLElement} */ (table.tBodies[0] ?? table.createTBody());
  const found = groups(asHeat(frame));
  const names = new Map(found.map((group) => [group.division, group.name]));
  const keys = found.flatMap((group) => [
    ...(found.length > 1 ? [`division ${group.division}`] : []),
    ...group.lanes.map((lane) => `lane ${lane.lane}`),
  ]);
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const work = layOut(frame.event, rounds);
  const make = (/** @type {string} */ key) => (key.startsWith("lane") ? laneRow() : divisionRow());
  keyedChildren(body, keys, make, (row, key) => {
    const id = key.slice(key.indexOf(" ") + 1);
    const lane = key.startsWith("lane") ? frame.lanes[id] : undefined;
    if (lane) drawRow(row, frame, lane, { work, at: along(frame.event, lane, rounds) });
    else setText(/** @type {Element} */ (row.firstElementChild), names.get(id) ?? "");
  });
}

/**
 * @param {HTMLElement} row
 * @param {CallFrame} frame
 * @param {CallLane} lane
 * @param {{work: import("../shared/workline.js").WorkLine, at: number}} line
 */
function drawRow(row, frame, lane, { work, at }) {
  const heat = asHeat(frame);
  const inside = lane.outlook?.inside_cap;
  setAttr(row, "data-leads", leads(heat, lane));
  setAttr(row, "data-state", lookOf(heat, lane));
  setAttr(row, "data-followed", lane.lane === followed);
  setAttr(row, "data-risk", inside !== undefined && !isDone(lane) && inside < RISK ? "likely" : undefined);
  setAttr(row, "data-lane", lane.lane);
  for (const [name, text] of Object.entries(cellTexts(frame, lane))) setText(part(row, name), text);
  setAttr(part(row, "meaning"), "data-round", lane.mark !== undefined && lane.mark.ends !== "station");
  drawLine(part(row, "line"), work, at, lookOf(heat, lane));
  fitName(part(row, "name"), lane.name, lane.short);
}

function listen() {
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Enter" && event.target instanceof HTMLButtonElement) return;
    if (act(event.key)) event.preventDefault();
  });
  desk.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : undefined;
    const button = target?.closest("[data-key]");
    const row = target?.closest("[data-lane]");
    if (button instanceof HTMLElement) act(button.dataset.key ?? "");
    else if (row instanceof HTMLElement) choose(Number(row.dataset.lane));
  });
  addEventListener("resize", redraw);
}

/**
 * @param {string} key
 * @returns {boolean} whether the key means anything here
 */
function act(key) {
  if (key === "d") toggleTheme();
  else if (key === "ArrowDown" || key === "j") follow(1);
  else if (key === "ArrowUp" || key === "k") follow(-1);
  else if (key === "Enter") toggleFacts();
  else if (key === "Escape") [followed, open] = [undefined, false];
  else return false;
  redraw();
  return true;
}

function redraw() {
  refitAll();
  draw();
  table.querySelector("[data-followed]")?.scrollIntoView({ block: "nearest" });
}

/** @param {1 | -1} step down or up the order */
function follow(step) {
  if (!shown) return;
  const order = groups(asHeat(shown)).flatMap((group) => group.lanes.map((lane) => lane.lane));
  const at = followed === undefined ? (step > 0 ? -1 : order.length) : order.indexOf(followed);
  followed = order[Math.min(order.length - 1, Math.max(0, at + step))];
}

function toggleFacts() {
  if (followed === undefined) follow(1);
  open = !open;
}

/**
 * A tap on a row opens its facts; a second one closes them.
 *
 * @param {number} lane
 */
function choose(lane) {
  open = followed !== lane || !open;
  followed = lane;
  redraw();
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

/**
 * A call is a heat with more in it.
 *
 * @param {CallFrame} frame
 * @returns {HeatFrame}
 */
function asHeat(frame) {
  return /** @type {HeatFrame} */ (/** @type {unknown} */ (frame));
}
