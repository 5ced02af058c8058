/**
 * Rows of lanes in columns, as layout.js lays them out: making them, and moving them calmly.
 *
 * @typedef {import("./layout.js").Cell} Cell
 * @typedef {import("./layout.js").Layout} Layout
 */

import { keyedChildren, setAttr, setText, setVar } from "../shared/dom.js";
import { createLine } from "../shared/drawline.js";
import { make } from "../shared/make.js";

/** Whether the picture is taller than it is wide. */
export function isUpright() {
  return matchMedia("(max-aspect-ratio: 1/1)").matches;
}

/**
 * A row with place, name, gap and figure over its line of work.
 *
 * @returns {HTMLElement}
 */
export function createRow() {
  return make(
    "row",
    "row",
    make("row-place", "place"),
    make("row-name name", "name"),
    make("row-gap", "gap"),
    make("row-figure", "figure"),
    createLine(),
  );
}

/**
 * Draw every cell of a layout: lanes by `draw`, names of divisions as they are.
 *
 * @param {HTMLElement} rows
 * @param {Layout} layout
 * @param {() => HTMLElement} makeRow
 * @param {(row: HTMLElement, cell: Cell & {lane: NonNullable<Cell["lane"]>}) => void} draw
 */
export function drawCells(rows, layout, makeRow, draw) {
  const byKey = new Map(layout.cells.map((cell) => [cell.key, cell]));
  const makeCell = (/** @type {string} */ key) => (key.startsWith("division") ? make("division") : makeRow());
  // In the order of their keys, not of their places: a row that moves is not put elsewhere in the document.
  keyedChildren(rows, [...byKey.keys()].sort(), makeCell, (element, key) => {
    const cell = /** @type {Cell} */ (byKey.get(key));
    place(element, cell);
    if (cell.lane) draw(element, { ...cell, lane: cell.lane });
    else setText(element, cell.group.name);
  });
}

/**
 * Say on a deck how many columns and rows it has, and how high a row may be.
 *
 * @param {HTMLElement} deck
 * @param {Layout} layout
 */
export function setShape(deck, { columns, rows }) {
  setAttr(deck, "data-columns", columns);
  setAttr(deck, "data-size", rows > 6 ? "small" : rows > 3 ? "middle" : "large");
  setVar(deck, "--rows", String(rows));
  setVar(deck, "--columns", String(columns));
}

/** A row slides over so many others at most: names that rush past one place again and again flash there. */
const FAR = 2;

/** @type {WeakMap<HTMLElement, {column: number, row: number}>} */
const placeOf = new WeakMap();

/**
 * Put a cell where it belongs. Near by within a column it slides; to another column or far away it fades in at its new
 * place, because a row that flies across the picture draws the eye away from the sport.
 *
 * @param {HTMLElement} element
 * @param {Cell} cell
 */
function place(element, { column, row }) {
  const before = placeOf.get(element);
  const jumps = before !== undefined && (before.column !== column || Math.abs(before.row - row) > FAR);
  placeOf.set(element, { column, row });
  if (jumps && !matchMedia("(prefers-reduced-motion: reduce)").matches) {
    element.animate([{ opacity: 0 }, { opacity: 1 }], { duration: 500, easing: "ease-out" });
  }
  setAttr(element, "data-jumps", jumps);
  setVar(element, "--column", String(column));
  setVar(element, "--row", String(row));
}
