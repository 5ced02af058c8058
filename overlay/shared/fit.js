/**
 * Making a name fit its place, by the same steps everywhere (docs/look.md, "Long names"):
 *
 *   0  the whole name, at the normal width of the face
 *   1  the whole name, narrower
 *   2  the whole name, at the narrowest
 *   3  the short form the competition file gives, from the widest of the three that fits
 *   4  the short form, narrowest and a sixth smaller
 *   5  as 4, cut at its end with an ellipsis
 *
 * The steps are looks in parts.css ([data-fit]); here they are only chosen. A script without a width axis passes
 * steps 1 and 2 unchanged and goes on to 3.
 */

import { setAttr, setText } from "./dom.js";

const WIDTHS = ["normal", "narrow", "narrowest"];

/** @type {WeakMap<HTMLElement, string>} */
const fitted = new WeakMap();
let generation = 0;

/**
 * Write a name into an element that hides what overflows. Measures only when the name, its short form or the room
 * has changed since the last time.
 *
 * @param {HTMLElement} element
 * @param {string} full
 * @param {string} short
 */
export function fitName(element, full, short) {
  const key = `${generation}|${element.clientWidth}|${full}|${short}`;
  if (fitted.get(element) === key || element.clientWidth === 0) return;
  setAttr(element, "dir", "auto");
  for (const [text, fit] of steps(full, short || full)) {
    setText(element, text);
    setAttr(element, "data-fit", fit);
    if (element.scrollWidth <= element.clientWidth) break;
  }
  fitted.set(element, key);
}

/** Measure every name again at its next turn: the face has arrived, or the picture has another size. */
export function refitAll() {
  generation += 1;
}

/**
 * @param {string} full
 * @param {string} short
 * @returns {[string, string][]} text and look, best first; the last is taken whether it fits or not
 */
function steps(full, short) {
  const texts = full === short ? [full] : [full, short];
  return [...texts.flatMap((text) => WIDTHS.map((width) => /** @type {[string, string]} */ ([text, width]))), [short, "least"]];
}
