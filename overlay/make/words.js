/** The words of the competition maker. */

import { say } from "../shared/say.js";

/** @type {Record<string, string>} */
export const EXAMPLES = { time_cap: "10:00", places: "100, 95, 90", start: "2027-06-05T14:05:00+02:00", size: "1920x1080" };

/**
 * How a field is called; one that is not known as it is written in the file, with spaces.
 *
 * @param {string} field
 * @param {string} [format] whose own field it is
 */
export function labelOf(field, format) {
  if (format) return known(say(`form.${format}.field.${field}`), field);
  return known(say(`make.label.${field}`), field);
}

/**
 * How a choice is called; one that is not known as it is written in the file, with spaces.
 *
 * @param {string} value
 * @param {string} [format] whose own choice it is
 */
export function choiceText(value, format) {
  if (format) return known(say(`form.${format}.choice.${value}`), value);
  return known(say(`make.choice.${value}`), value);
}

/** @param {string} name */
export function formatText(name) {
  return known(say(`form.${name}.title`), name);
}

/** How a language calls itself; the browser's own names would cost a tenth of what the page may take. @param {string} language */
export function languageText(language) {
  return say(`make.spoken.${language}`);
}

/** @param {string} text its key, where the catalogue has none @param {string} name */
function known(text, name) {
  return text.endsWith(`.${name}`) || text.endsWith(`.${name}.title`) ? plainText(name) : text;
}

/** @param {string} value as it is written in the file */
function plainText(value) {
  const text = value.replaceAll("_", " ");
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

/**
 * What one of a list is called.
 *
 * @param {string} kind
 * @param {string | number} number or its name
 */
export function itemText(kind, number) {
  return say(`make.item.${kind}`, { number });
}

/**
 * A name to begin with, as it is written into the file: without the signs that set parts of a line apart.
 *
 * @param {string} text
 */
export function nameText(text) {
  return text.replace(/[\u2066-\u2069]/g, "");
}

/** @param {import("./reducer.js").Problem} problem */
export function problemText({ found, said }) {
  if (found === "nothing") return said.expected ? say("make.to_fill_as", { expected: said.expected }) : say("make.to_fill");
  return found === "list" ? say("make.needed", { expected: said.expected }) : say("make.problem", said);
}

/**
 * @param {number} problems
 * @param {boolean} checked the server has seen what stands here
 * @param {boolean} dirty something is not saved
 */
export function stateText(problems, checked, dirty) {
  if (!checked) return say("make.checking");
  if (problems) return say("make.to_right", { n: problems });
  return dirty ? say("make.not_saved") : say("make.is_saved");
}

/**
 * @param {{added: number, changed: number}} took
 */
export function pastedText({ added, changed }) {
  return changed ? say("make.added_changed", { added, changed }) : say("make.added", { added });
}

/** @param {number} shown @param {number} all */
export function shownText(shown, all) {
  return shown < all ? say("make.shown", { shown, all }) : "";
}
