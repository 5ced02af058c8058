/**
 * The lists of the spectator page: the lanes of the heat over their lines of work, the event's ranking, and overall. A row
 * stands where its number says, by a transform, so that a change of place moves nothing else on the page.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/types.js").RankingRow} RankingRow
 * @typedef {import("../shared/types.js").StandingsRow} StandingsRow
 */

import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { createLine, drawLine } from "../shared/drawline.js";
import { fitName } from "../shared/fit.js";
import { amountText, placeFigure } from "../shared/format.js";
import { make } from "../shared/make.js";
import { numberText, say } from "../shared/say.js";
import { figureText, gapText, groups, lookOf, placeText } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";

/**
 * @param {HTMLElement} list
 * @param {HeatFrame} frame
 * @param {string | undefined} followed an entry
 * @param {(entry: string) => void} follow
 */
export function drawLanes(list, frame, followed, follow) {
  const divisions = groups(frame);
  const lanes = new Map(divisions.flatMap((group) => group.lanes.map((lane) => [lane.entry, { lane, leader: group.lanes[0] }])));
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const work = layOut(frame.event, rounds);
  drawRows(list, [...lanes.keys()], (entry) => createRow(entry, follow, createLine()), (row, entry) => {
    const { lane, leader } = /** @type {{lane: LaneData, leader: LaneData}} */ (lanes.get(entry));
    const look = lookOf(frame, lane);
    setAttr(row, "data-look", look);
    setAttr(part(row, "pick"), "aria-pressed", String(entry === followed));
    setText(part(row, "place"), placeText(frame, lane));
    setText(part(row, "gap"), joined(gapText(frame, lane, leader), divisions.length > 1 ? frame.divisions[lane.division].name : ""));
    setText(part(row, "figure"), figureText(lane));
    fitName(part(row, "name"), lane.name, lane.short);
    drawLine(/** @type {HTMLElement} */ (row.querySelector(".line")), work, along(frame.event, lane, rounds), look);
  });
}

/**
 * @param {HTMLElement} list
 * @param {HeatFrame} frame
 * @param {string | undefined} followed
 * @param {(entry: string) => void} follow
 */
export function drawRanking(list, frame, followed, follow) {
  const note = (/** @type {RankingRow} */ { points }) => (points === undefined ? "" : amountText(points, "points"));
  drawTables(list, frame, frame.ranking ?? {}, { followed, follow, note, figure: figureText });
}

/**
 * @param {HTMLElement} list
 * @param {HeatFrame} frame
 * @param {string | undefined} followed
 * @param {(entry: string) => void} follow
 */
export function drawStandings(list, frame, followed, follow) {
  const note = (/** @type {StandingsRow} */ { place, before }) => (before === undefined || before.place === place ? "" : say("public.was", { place: before.place }));
  drawTables(list, frame, frame.standings ?? {}, { followed, follow, note, figure: ({ total }) => numberText(total) });
}

/**
 * Places by division, one list for all: `note` and `figure` say what stands with a name.
 *
 * @template {import("../shared/types.js").Named} Row
 * @param {HTMLElement} list
 * @param {HeatFrame} frame
 * @param {Record<string, {order: string[], rows: Record<string, Row>}>} tables
 * @param {{followed: string | undefined, follow: (entry: string) => void, note: (row: Row) => string, figure: (row: Row) => string}} how
 */
function drawTables(list, frame, tables, { followed, follow, note, figure }) {
  const named = Object.keys(tables).length > 1;
  const rows = new Map(Object.entries(tables).flatMap(([division, { order, rows: all }]) => order.map((entry) => [entry, { found: all[entry], division }])));
  drawRows(list, [...rows.keys()], (entry) => createRow(entry, follow), (row, entry) => {
    const { found, division } = /** @type {{found: Row, division: string}} */ (rows.get(entry));
    setAttr(part(row, "pick"), "aria-pressed", String(entry === followed));
    setText(part(row, "place"), placeFigure(found));
    setText(part(row, "gap"), joined(note(found), named ? (frame.divisions[division]?.name ?? "") : ""));
    setText(part(row, "figure"), figure(found));
    fitName(part(row, "name"), found.name, found.short);
  });
}

/** @param {...string} texts those that say nothing are left out */
function joined(...texts) {
  return texts.filter(Boolean).join(" · ");
}

/**
 * @param {HTMLElement} list
 * @param {string[]} entries
 * @param {(entry: string) => HTMLElement} create
 * @param {(row: HTMLElement, entry: string) => void} update
 */
function drawRows(list, entries, create, update) {
  const focused = document.activeElement;
  setVar(list, "--rows", String(entries.length));
  const turns = new Map(entries.map((entry, turn) => [entry, String(turn)]));
  keyedChildren(list, entries, create, (row, entry) => {
    // First of all: fitting a name lays the page out, and a row slides from wherever it stands then.
    setVar(row, "--turn", turns.get(entry) ?? "0");
    update(row, entry);
  });
  // A row that changed its place was taken out for a moment, and a focus in it was lost.
  if (focused instanceof HTMLElement && focused !== document.activeElement && list.contains(focused)) focused.focus({ preventScroll: true });
}

/**
 * @param {string} entry
 * @param {(entry: string) => void} follow
 * @param {...HTMLElement} more
 */
function createRow(entry, follow, ...more) {
  const [row, pick] = [document.createElement("li"), document.createElement("button")];
  row.className = "row";
  pick.className = "row-pick";
  pick.type = "button";
  pick.dataset.part = "pick";
  pick.append(make("row-place", "place"), make("row-name name", "name"), make("row-gap", "gap"), make("row-figure", "figure"), ...more);
  pick.addEventListener("click", () => follow(entry));
  row.append(pick);
  return row;
}
