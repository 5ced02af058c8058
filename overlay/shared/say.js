/**
 * The words of a page in its language, from the catalogue that the page loads first: `say("public.to_go", { left })`.
 * docs/languages.md has the catalogues. What a page says about numbers follows the language too (ECMA-402).
 *
 * @typedef {string | Record<string, string>} Catalogued a text, or one for each plural category
 * @typedef {{language: string, direction: string, decimal: string, texts: Record<string, Catalogued>}} Words
 */

/** @type {Words} */
const words = /** @type {any} */ (globalThis).WORDS ?? { language: "en", direction: "ltr", decimal: ".", texts: {} };
/** Western figures in every language: those on the clock and on the floor. */
const locale = `${words.language}-u-nu-latn`;
const plurals = once(() => new Intl.PluralRules(locale));
const ordinals = once(() => new Intl.PluralRules(locale, { type: "ordinal" }));
const numbers = once(() => new Intl.NumberFormat(locale, { useGrouping: false, maximumFractionDigits: 3 }));
const lists = once(() => new Intl.ListFormat(locale, { type: "conjunction" }));
const leftwards = words.direction === "rtl";

/** The code of the page's language in the catalogues. */
export const languageCode = words.language;

/** The page's language, as BCP 47 has it, for dates and lists. */
export const language = locale;

/** @type {Map<string, string[]>} texts, cut at their placeholders: every second piece is a name */
const cut = new Map();

/**
 * Give a text of the catalogue. A number in it follows the language; where there are plural forms, `n` chooses one.
 *
 * @param {string} key
 * @param {Record<string, string | number>} [values]
 * @returns {string} the key itself where the catalogue has no such text
 */
export function say(key, values) {
  const found = words.texts[key] ?? key;
  const text = typeof found === "string" ? found : found[plurals().select(Number(values?.n ?? 0))] ?? found.other;
  return values ? fill(text, values) : text;
}

/**
 * Write a place among words: 1 → 1st, 12 → 12th, 23 → 23rd.
 *
 * @param {number} place
 * @returns {string}
 */
export function ordinal(place) {
  const found = words.texts["shared.ordinal"] ?? "{n}";
  return fill(typeof found === "string" ? found : found[ordinals().select(place)] ?? found.other, { n: place });
}

/**
 * @param {string} text
 * @param {Record<string, string | number>} values
 */
function fill(text, values) {
  let pieces = cut.get(text);
  if (!pieces) cut.set(text, (pieces = text.split(/\{(\w+)\}/)));
  let filled = pieces[0];
  for (let at = 1; at < pieces.length; at += 2) filled += shown(values[pieces[at]]) + pieces[at + 1];
  return filled;
}

/** @param {string | number | undefined} value */
function shown(value) {
  const text = typeof value === "number" ? numberText(value) : (value ?? "");
  return leftwards ? `\u2068${text}\u2069` : text;
}

/**
 * Write a number, with the decimal mark of the language.
 *
 * @param {number} value
 */
export function numberText(value) {
  return Number.isInteger(value) ? String(value) : numbers().format(value);
}

/**
 * Write several in a row: a, b, and c.
 *
 * @param {string[]} texts
 */
export function listText(texts) {
  return lists().format(texts);
}

/**
 * Write figures as the language does: the decimal mark, and from left to right among letters that are not.
 *
 * @param {string} text such as 11:42.3
 * @returns {string}
 */
export function figures(text) {
  const { decimal } = words;
  const marked = decimal === "." ? text : text.replace(/(\d)\.(?=\d)/g, `$1${decimal}`);
  return leftwards && marked ? `\u2066${marked}\u2069` : marked;
}

/**
 * Make something when it is first needed: the rules of a language cost a page several milliseconds as it opens.
 *
 * @template T
 * @param {() => T} make
 * @returns {() => T}
 */
function once(make) {
  /** @type {T | undefined} */
  let made;
  return () => (made ??= make());
}
