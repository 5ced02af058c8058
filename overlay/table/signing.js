/** The sheets of all lanes in one dialog: tick what agrees, change what does not, sign once. */

import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { say } from "../shared/say.js";
import { heatTitle } from "./actions.js";
import { inTheWay, sheetsOf } from "./sheets.js";

/**
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Wishes
 * @property {() => HeatFrame | undefined} frame as it is now
 * @property {(lane: number) => void} change what does not agree
 * @property {(lanes: number[], by: string) => void} check keep that these sheets agree
 * @property {(by: string) => void} sign after that
 */

export class Signing {
  #root;
  #wishes;
  #dialog;
  #by;
  /** @type {Map<number, string>} */
  #ticks = new Map();
  #heat = "";

  /**
   * @param {ParentNode} root
   * @param {Wishes} wishes
   */
  constructor(root, wishes) {
    this.#root = root;
    this.#wishes = wishes;
    this.#dialog = /** @type {HTMLDialogElement} */ (part(root, "sheets"));
    this.#by = /** @type {HTMLInputElement} */ (part(root, "sheets-by"));
    part(root, "sheets-no").addEventListener("click", () => this.#dialog.close());
    part(root, "sheets-keep").addEventListener("click", () => this.#answer(false));
    part(root, "sheets-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.#answer(true);
    });
    this.#by.addEventListener("input", () => this.show());
  }

  /** @param {string} by who signed last at this table */
  open(by) {
    this.#ticks.clear();
    this.#heat = this.#wishes.frame()?.heat.id ?? "";
    this.#by.value = by;
    this.#dialog.showModal();
    this.show();
    if (!by) this.#by.focus();
  }

  /** Show the sheets as they are now; another heat on the page closes the dialog. */
  show() {
    if (!this.#dialog.open) return;
    const frame = this.#wishes.frame();
    if (frame?.heat.id !== this.#heat) this.#dialog.close();
    if (!frame || frame.heat.id !== this.#heat) return;
    const sheets = sheetsOf(frame, this.#ticks);
    const why = inTheWay(sheets, this.#by.value);
    setText(part(this.#root, "sheets-title"), say("table.sheets_of", { heat: heatTitle(frame) }));
    keyedChildren(part(this.#root, "sheets-rows"), sheets.map(({ lane }) => lane), (lane) => this.#makeRow(Number(lane)), (row, lane) => {
      showSheet(row, /** @type {import("./sheets.js").Sheet} */ (sheets.find((sheet) => String(sheet.lane) === lane)));
    });
    setText(part(this.#root, "sheets-why"), why);
    setAttr(part(this.#root, "sheets-yes"), "aria-disabled", why ? "true" : undefined);
  }

  /** @param {number} lane */
  #makeRow(lane) {
    const row = stamp(this.#root, "sheet-template");
    part(row, "sheet-tick").addEventListener("change", () => this.#tick(lane));
    part(row, "sheet-change").addEventListener("click", () => this.#wishes.change(lane));
    setAttr(part(row, "sheet-change"), "aria-label", say("table.change_lane", { lane }));
    return row;
  }

  /** @param {number} lane */
  #tick(lane) {
    const frame = this.#wishes.frame();
    const sheet = frame && sheetsOf(frame, this.#ticks).find((each) => each.lane === lane);
    if (!sheet || sheet.ticked) this.#ticks.delete(lane);
    else this.#ticks.set(lane, sheet.text);
    this.show();
  }

  /** @param {boolean} signs */
  #answer(signs) {
    const frame = this.#wishes.frame();
    if (!frame || frame.heat.id !== this.#heat) return;
    const by = this.#by.value.trim().slice(0, 200);
    const sheets = sheetsOf(frame, this.#ticks);
    const why = signs ? inTheWay(sheets, by) : by ? "" : say("table.who_compared");
    setText(part(this.#root, "sheets-why"), why);
    if (why) return;
    this.#dialog.close();
    this.#wishes.check(sheets.filter(({ kept, ticked }) => ticked && !kept).map(({ lane }) => lane), by);
    if (signs) this.#wishes.sign(by);
  }
}

/**
 * @param {HTMLElement} row
 * @param {import("./sheets.js").Sheet} sheet
 */
function showSheet(row, { lane, name, text, kept, ticked }) {
  const tick = /** @type {HTMLInputElement} */ (part(row, "sheet-tick"));
  setText(part(row, "sheet-lane"), lane);
  setText(part(row, "sheet-name"), name);
  setText(part(row, "sheet-text"), text);
  setText(part(row, "sheet-word"), kept ? say("table.compared") : say("table.agrees"));
  setAttr(tick, "aria-label", say("table.sheet_of_lane", { lane }));
  if (tick.checked !== (kept || ticked)) tick.checked = kept || ticked;
  tick.disabled = kept;
}
