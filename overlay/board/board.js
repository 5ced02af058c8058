/**
 * The venue board, legible from the last row. It turns by itself between the lanes as they stand on the floor, the ranking,
 * the countdown and the result (rotation.js).
 *
 *   ?show=ranking  one screen for good: floor, ranking, countdown or result
 *   ?seconds=15    how long a screen stays
 *   ?start=14:05   the announced start, by this machine's clock: counted down to
 *   ?heat=h2       a heat's id, or whichever heat is on the floor
 *   ?floor=east    whichever heat is on one of several floors
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/workline.js").WorkLine} WorkLine
 */

import { formatOf } from "../formats/registry.js";
import { createCalm } from "../shared/calm.js";
import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { createLine, drawLine, drawRuler } from "../shared/drawline.js";
import { fitName, refitAll } from "../shared/fit.js";
import { dayText } from "../shared/day.js";
import { amountText, clockText, placeOrdinal } from "../shared/format.js";
import { watchLive } from "../shared/live.js";
import { make } from "../shared/make.js";
import {
  figureText,
  floorOrder,
  gapText,
  groups,
  hasLongFigures,
  hasResults,
  isOut,
  leads,
  limitText,
  lookOf,
  placesCount,
  heatTitle,
  placesTitle,
  placeText,
  roundText,
} from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";
import { createTurn, toAnnouncedMs } from "./rotation.js";
import { say } from "../shared/say.js";

/** What is above and below the lanes, in units (--u): head, ruler, foot and edges. */
const AROUND = 284;
/** A row lower than this has no room for its letters: then the lanes stand in two columns. */
const LEAST_ROW = 79;
/** More lanes than this under each other leave a name no room beside what its lane is at. */
const MOST_WITH_MOVEMENT = 12;
/** A row is high enough for a second line: what a lane is at stands under its name. */
const TALL_ROW = 190;
const RULER_GAP = { 1: 0.06, 2: 0.12 };

const board = part(document, "board");

await document.fonts.load("600 54px Asap", "Aā0");
run();

const asked = new URLSearchParams(location.search);
const turn = createTurn({ show: asked.get("show"), seconds: asked.get("seconds") });

function run() {
  /** @type {HeatFrame | undefined} */
  let shown;
  /** @type {HeatFrame | undefined} with how far the result is */
  let result;
  /** @type {Date | undefined} */
  let heardAt;
  let screen = "";
  /** @type {import("../shared/day.js").DayHeat[]} */
  let day = [];
  const draw = (/** @type {HeatFrame} */ frame) => {
    shown = result?.heat.id === frame.heat.id && frame.heat.status === "over" ? { ...frame, result: result.result } : frame;
    drawBoard(shown, screen);
  };
  const take = createCalm(draw);
  watchLive("heat", {
    frame(frame, view) {
      heardAt = new Date();
      if (view === "heat") return take(frame);
      if (view === "next") return void (day = frame.day ?? []);
      result = frame;
      if (shown) draw(shown);
    },
    also: (frame) => (frame.heat.status === "over" ? ["result", "next"] : ["next"]),
    tick(clockMs, frame, unixMs) {
      const toStartMs = startsInMs(frame, unixMs);
      const next = turn(frame.heat.status, toStartMs, placesCount(frame));
      if (next !== screen && shown) {
        screen = next;
        change();
        drawBoard(shown, screen);
      }
      setText(part(board, "clock"), clockText(clockMs ?? 0));
      setText(part(board, "cap"), capText(frame, clockMs));
      drawCount(frame, clockMs, toStartMs);
      setText(part(board, "day"), part(board, "link").textContent ? "" : dayText(day, unixMs, 1));
    },
    link: ({ up }) => setText(part(board, "link"), up || !heardAt ? "" : say("board.reconnecting", { time: timeOfDay(heardAt) })),
  });
  addEventListener("resize", () => {
    refitAll();
    if (shown) drawBoard(shown, screen);
  });
}

/** Another screen fades in. */
function change() {
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) return;
  for (const name of ["rows", "rulers", "count"]) part(board, name).animate([{ opacity: 0 }, { opacity: 1 }], { duration: 700, easing: "ease-out" });
}

/**
 * Until the start: of a heat started for a moment that is still to come, or announced in the address.
 *
 * @param {HeatFrame} frame
 * @param {number} unixMs
 */
function startsInMs({ heat, clock }, unixMs) {
  if (clock.zero_unix_ms !== undefined) return clock.zero_unix_ms - unixMs;
  return heat.status === "waiting" ? toAnnouncedMs(asked.get("start"), new Date()) : undefined;
}

/**
 * The cap and, while the heat runs, the time left to it.
 *
 * @param {HeatFrame} frame
 * @param {number | undefined} clockMs
 */
function capText(frame, clockMs) {
  if (frame.heat.status !== "running") return limitText(frame);
  return say(frame.event.laps === undefined ? "board.left_of" : "board.left_to", { time: clockText(leftMs(frame, clockMs)), limit: clockText(frame.clock.cap_ms) });
}

/**
 * A time left is 0:00 only when nothing is left.
 *
 * @param {HeatFrame} frame
 * @param {number | undefined} clockMs
 */
function leftMs({ clock }, clockMs) {
  return Math.max(0, clock.cap_ms - (clockMs ?? 0)) + 999;
}

/**
 * The one large number: the time to the start, then the time to the cap.
 *
 * @param {HeatFrame} frame
 * @param {number | undefined} clockMs
 * @param {number | undefined} toStartMs
 */
function drawCount(frame, clockMs, toStartMs) {
  const starts = frame.heat.status === "waiting" || (toStartMs ?? 0) > 0;
  const over = frame.heat.status === "over";
  const known = !starts || (toStartMs !== undefined && toStartMs > 0);
  setText(part(board, "count-label"), over ? say("board.heat_over") : starts ? (known ? say("board.to_start") : say("board.start_unknown")) : say("board.to_cap"));
  setText(part(board, "count-time"), over || !known ? "" : clockText(starts ? (toStartMs ?? 0) + 999 : leftMs(frame, clockMs)));
}

/** @param {Date} date */
function timeOfDay(date) {
  return [date.getHours(), date.getMinutes(), date.getSeconds()].map((part) => String(part).padStart(2, "0")).join(":");
}

/**
 * @param {HeatFrame} frame
 * @param {string} screen
 */
function drawBoard(frame, screen) {
  const ranked = screen === "ranking" || screen === "result";
  const lanes = ranked ? groups(frame).flatMap((group) => group.lanes) : floorOrder(frame);
  setAttr(board, "data-screen", screen);
  setAttr(part(board, "count"), "hidden", screen !== "countdown");
  setText(part(board, "unofficial"), footText(frame));
  setAttr(board, "data-rehearsal", frame.mode === "rehearsal");
  setAttr(part(board, "rehearsal"), "hidden", frame.mode !== "rehearsal");
  setAttr(part(board, "empty"), "hidden", lanes.length > 0);
  setText(part(board, "empty"), say("shared.empty_heat"));
  drawHead(frame);
  drawRows(frame, lanes, ranked);
}

const FOOT = {
  live: say("shared.unofficial"),
  provisional: say("board.provisional"),
  official: say("board.official"),
  amended: say("board.amended"),
};

/** @param {HeatFrame} frame */
function footText({ result }) {
  return FOOT[result?.stage ?? "live"] ?? FOOT.live;
}

/** @param {HeatFrame} frame */
function drawHead(frame) {
  fitName(part(board, "event"), frame.event.name, frame.event.name);
  fitName(part(board, "heat"), withFloor(frame, placesTitle(frame)), withFloor(frame, heatTitle(frame)));
  setText(part(board, "round"), stateText(frame));
}

/**
 * @param {HeatFrame} frame
 * @param {string} title
 */
function withFloor({ heat }, title) {
  return heat.floor ? `${heat.floor.name} · ${title}` : title;
}

/** @param {HeatFrame} frame */
function stateText(frame) {
  if (frame.heat.status === "waiting") return say("shared.waiting_start");
  if (frame.heat.status === "over") return say("shared.heat_over");
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  return roundText(frame.event, leader);
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData[]} lanes
 * @param {boolean} ranked best first, with the place in front
 */
function drawRows(frame, lanes, ranked) {
  const columns = roomFor(lanes.length) < LEAST_ROW ? 2 : 1;
  const rounds = roundsOnLine(frame.event, lanes);
  const work = layOut(frame.event, rounds);
  setAttr(board, "data-columns", columns);
  setAttr(board, "data-waiting", frame.heat.status === "waiting");
  setAttr(board, "data-over", frame.heat.status === "over");
  setAttr(board, "data-results", hasResults(frame));
  setVar(board, "--columns", String(columns));
  const rows = Math.max(1, Math.ceil(lanes.length / columns));
  const crowded = rows > MOST_WITH_MOVEMENT || columns > 1;
  setAttr(board, "data-crowded", crowded);
  setVar(board, "--rows", String(rows));
  setAttr(board, "data-long", hasLongFigures(frame));
  setAttr(board, "data-tall", columns === 1 && roomFor(rows) >= TALL_ROW);
  drawRulers(work, lanes.length ? columns : 0, say(`shared.unit_${formatOf(frame.event).unit}`));
  const byLane = new Map(lanes.map((lane) => [String(lane.lane), lane]));
  keyedChildren(part(board, "rows"), [...byLane.keys()], makeRow, (row, key) => {
    const lane = /** @type {LaneData} */ (byLane.get(key));
    drawRow(row, frame, lane, work, along(frame.event, lane, rounds));
    if (ranked) drawRanked(row, frame, lane);
    setAttr(row, "data-away", crowded && isPadAway(frame, lane));
    if (crowded && isPadAway(frame, lane)) setText(part(row, ranked ? "movement" : "place"), say("board.no_pad"));
  });
}

/**
 * The height that so many rows under each other leave each of them, in units: on an upright screen it is more.
 *
 * @param {number} rows
 */
function roomFor(rows) {
  const unit = Math.min(innerWidth / 1920, innerHeight / 1080);
  return (innerHeight / unit - AROUND) / rows;
}

/**
 * By place: the place in front, what the lane trails the leader by, and at the end what the place is worth.
 *
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function drawRanked(row, frame, lane) {
  const leader = groups(frame).find((group) => group.division === lane.division)?.lanes[0];
  const points = frame.heat.status === "over" && !isOut(lane) ? lane.in_event && lane.points : undefined;
  setText(part(row, "lane"), placeText(frame, lane));
  setText(part(row, "place"), "");
  setText(part(row, "next"), "");
  if (isPadAway(frame, lane)) return;
  setText(part(row, "movement"), points === undefined ? gapText(frame, lane, leader) : amountText(points, "points"));
}

/**
 * @param {WorkLine} work
 * @param {number} columns
 * @param {string} unit
 */
function drawRulers(work, columns, unit) {
  const keys = Array.from({ length: columns }, (_, index) => index);
  keyedChildren(part(board, "rulers"), keys, () => make("ruler"), (ruler) => {
    setAttr(ruler, "data-unit", unit);
    drawRuler(ruler, work, RULER_GAP[/** @type {1 | 2} */ (columns)]);
  });
}

function makeRow() {
  return make(
    "row",
    "row",
    make("row-lane", "lane"),
    make("row-name name", "name"),
    make("row-home name", "home"),
    make("row-sub", "", make("row-division", "division"), make("row-movement name", "movement"), make("row-next", "next")),
    make("row-figure", "figure"),
    make("row-place", "place"),
    createLine(),
  );
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {WorkLine} work
 * @param {number} at
 */
function drawRow(row, frame, lane, work, at) {
  const waiting = frame.heat.status === "waiting";
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "lane"), lane.lane);
  setText(part(row, "division"), Object.keys(frame.divisions).length > 1 ? frame.divisions[lane.division].name : "");
  setText(part(row, "movement"), movementText(frame, lane));
  setText(part(row, "next"), lane.status === "working" && formatOf(frame.event).marks ? say("board.to_mark", { mark: lane.next_mark }) : "");
  setText(part(row, "figure"), waiting ? "" : figureText(lane));
  setText(part(row, "place"), placeWords(frame, lane));
  drawLine(part(row, "line"), work, at, lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short); // last: it measures, and what is drawn after that would slide in
  fitName(part(row, "home"), lane.home, lane.home);
}

/**
 * What the lane is doing; while its pad is away its number stands, and the row says so.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function movementText(frame, lane) {
  if (isPadAway(frame, lane)) return say("board.waiting_pad");
  return lane.status === "working" ? lane.movement : "";
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function isPadAway({ waiting_for_pad = [] }, { lane, status }) {
  return (status === "working" || status === "ready") && waiting_for_pad.includes(lane);
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function placeWords(frame, lane) {
  const place = placeText(frame, lane);
  return place && placeOrdinal(lane);
}
