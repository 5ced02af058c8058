import assert from "node:assert/strict";
import { test } from "node:test";

import { layOutCells } from "../../overlay/air/layout.js";
import { laneOf } from "./frames.js";

/** A division with this many lanes. */
function groupOf(division, size) {
  return { division, name: division, lanes: Array.from({ length: size }, (_, index) => laneOf(index + 1, { division })) };
}

test("the deck stays low: side by side up to three, then two columns, then three", () => {
  const shape = (lanes) => {
    const { columns, rows } = layOutCells([groupOf("w", lanes)]);
    return `${columns}x${rows}`;
  };
  assert.deepEqual([1, 2, 3, 4, 5, 10, 12, 13, 20].map(shape), ["1x1", "2x1", "3x1", "2x2", "2x3", "2x5", "2x6", "3x5", "3x7"]);
});

test("a result may be higher, so that names have two columns to stand in, or one of an upright picture", () => {
  const shape = (lanes, upright) => {
    const { columns, rows } = layOutCells([groupOf("w", lanes)], { upright, over: true });
    return `${columns}x${rows}`;
  };
  assert.deepEqual([10, 20, 24, 25].map((lanes) => shape(lanes, false)), ["2x5", "2x10", "2x12", "3x9"]);
  assert.deepEqual([10, 20, 25].map((lanes) => shape(lanes, true)), ["1x10", "1x20", "2x13"]);
});

test("every lane has a cell of its own, down each column", () => {
  for (let lanes = 1; lanes <= 20; lanes += 1) {
    const { cells, rows } = layOutCells([groupOf("w", lanes)]);
    assert.equal(new Set(cells.map(({ column, row }) => `${column},${row}`)).size, lanes);
    assert.deepEqual(cells.map(({ column, row }) => column * rows + row), cells.map((_, index) => index));
  }
});

test("divisions have columns of their own while they fit, with their names over them", () => {
  const layout = layOutCells([groupOf("w", 6), groupOf("m", 5)]);
  assert.deepEqual([layout.columns, layout.rows, layout.heads], [2, 6, ["w", "m"]]);
  assert.deepEqual(layout.cells.filter(({ column }) => column === 1).map(({ lane }) => lane.division), Array(5).fill("m"));
});

test("divisions too big for that follow each other, each under its name", () => {
  const layout = layOutCells([groupOf("w", 10), groupOf("m", 10)]);
  assert.deepEqual(layout.heads, []);
  assert.equal(layout.cells.length, 22);
  assert.equal(layout.cells[0].lane, undefined);
  assert.equal(layout.cells[11].lane, undefined);
});

test("no lanes are a deck of one empty row", () => {
  assert.deepEqual(layOutCells([]), { columns: 1, rows: 1, heads: [], cells: [] });
});
