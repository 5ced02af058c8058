/**
 * Making a name fit its place, by the same steps everywhere (docs/look.md, "Long names"):
 *
 *   0  the whole name, at the normal width of the face
 *   1  the whole name, narrower
 *   2  the whole name, at the narrowest
 *   3  the short form the competition file gives, from the widest of the three that fits
 *   4  the short form, narrowest and a sixth smaller
 *   5  the short form on two lines, smaller still, where the row has the height (an element with `data-two`)
 *   6  as 4, cut at its end with an ellipsis
 *
 * The steps are looks in parts.css ([data-fit]); here they are only chosen. A script without a width axis passes
 * steps 1 and 2 unchanged and goes on to 3.
 */

import { setAttr, setText } from "./dom.js";

const WIDTHS = ["normal", "narrow", "narrowest"];
const TWO = "two";
/** Letters reach a little above and below their two lines; a third line would add half of their height. */
const THIRD_LINE = 1.25;

/**
 * @typedef {{element: HTMLElement, full: string, short: string}} Name
 *
 * @typedef {object} Fitted
 * @property {string} full
 * @property {string} short
 * @property {number} width of its place when it was fitted
 * @property {number} generation
 */

/** @type {WeakMap<Element, Fitted>} */
const fitted = new WeakMap();
let generation = 0;

/** Told by the browser after it has laid the page out and before it paints: reading a width costs nothing there. */
const rooms = typeof ResizeObserver === "undefined" ? undefined : new ResizeObserver((entries) => entries.forEach((entry) => refit(entry.target)));

/**
 * Write a name into an element that hides what overflows. Measures only when the name or its short form is another one,
 * and again by itself when there is more or less room: nothing is read from the layout while a picture is drawn.
 *
 * @param {HTMLElement} element
 * @param {string} full
 * @param {string} short
 */
export function fitName(element, full, short) {
  fitNames([{ element, full, short }]);
}

/**
 * The same for several: they are measured together, so that the page is laid out once for each step and not for each name.
 *
 * @param {Name[]} names
 */
export function fitNames(names) {
  const others = names.filter(({ element, full, short }) => {
    const last = fitted.get(element);
    return last?.full !== full || last.short !== short || last.generation !== generation;
  });
  for (const { element } of others) if (!fitted.has(element)) rooms?.observe(element);
  measure(others);
}

/** @param {Element} element */
function refit(element) {
  const last = fitted.get(element);
  if (!element.isConnected) {
    rooms?.unobserve(element);
    fitted.delete(element);
  } else if (last && element instanceof HTMLElement && element.clientWidth !== last.width) measure([{ ...last, element }]);
}

/** @param {Name[]} names */
function measure(names) {
  const places = names.map(({ element, full, short }) => {
    const width = element.clientWidth;
    fitted.set(element, { full, short, width, generation });
    return { element, width, left: steps(full, short || full, element.hasAttribute("data-two")) };
  });
  let tried = places.filter(({ width }) => width > 0);
  for (const { element } of tried) setAttr(element, "dir", "auto");
  while (tried.length) {
    for (const { element, left } of tried) {
      const [text, fit] = left[0];
      setText(element, text);
      setAttr(element, "data-fit", fit);
    }
    tried = tried.filter(({ element, width, left }) => {
      const [, fit] = /** @type {[string, string]} */ (left.shift());
      const fits = element.scrollWidth <= width && (fit !== TWO || element.scrollHeight < element.clientHeight * THIRD_LINE);
      return !fits && left.length > 0;
    });
  }
}

/** Measure every name again at its next turn: the face has arrived, or the picture has another size. */
export function refitAll() {
  generation += 1;
}

/**
 * @param {string} full
 * @param {string} short
 * @param {boolean} hasTwo whether there is room for two lines
 * @returns {[string, string][]} text and look, best first; the last is taken whether it fits or not
 */
function steps(full, short, hasTwo) {
  const texts = full === short ? [full] : [full, short];
  const looks = hasTwo ? ["least", TWO, "least"] : ["least"];
  return [[texts, WIDTHS], [[short], looks]].flatMap(([words, widths]) => words.flatMap((text) => widths.map((width) => /** @type {[string, string]} */ ([text, width]))));
}
