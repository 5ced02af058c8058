/** A table that is pasted from a spreadsheet: its cells, what its columns are, and the entries that come of it. Pure. */

/** @typedef {{id: string, name: string, division: string, [field: string]: unknown}} Entry */

/** What a column may be. */
export const COLUMNS = /** @type {const} */ (["", "name", "division", "short", "home", "id", "points_before", "age_class", "say", "ipa"]);
const PARTED_BY = ["\t", ";", ","];
/** How spreadsheets call their columns, in small letters. */
const HEADINGS = /** @type {Record<string, string[]>} */ ({
  name: ["name", "athlete", "team", "entry", "full name", "pair"],
  division: ["division", "category", "class", "group"],
  short: ["short", "short name", "shown as"],
  home: ["home", "gym", "club", "town", "box", "affiliate"],
  id: ["id", "bib", "number", "no", "no."],
  points_before: ["points_before", "points before", "points"],
  age_class: ["age_class", "age class", "age", "age group"],
  say: ["say", "said", "pronounced"],
  ipa: ["ipa"],
});

/**
 * The cells of a table: parted by tabs, as a spreadsheet copies them, by semicolons or by commas. A cell in quotation marks
 * may hold any of these, line ends, and two of the marks for one (RFC 4180 section 2).
 *
 * @param {string} text
 * @returns {string[][]} without rows in which nothing stands
 */
export function cellsOf(text) {
  const by = separatorOf(text);
  /** @type {string[][]} */
  const rows = [[]];
  let [cell, quoted] = ["", false];
  const end = () => void (rows.at(-1)?.push(cell.trim()), (cell = ""));
  for (let at = 0; at < text.length; at += 1) {
    const letter = text[at];
    if (quoted) {
      if (letter !== '"') cell += letter;
      else if (text[at + 1] === '"') cell += text[(at += 1)];
      else quoted = false;
    } else if (letter === '"' && !cell) quoted = true;
    else if (letter === by) end();
    else if (letter === "\n" || letter === "\r") {
      end();
      rows.push([]);
    } else cell += letter;
  }
  end();
  return rows.filter((row) => row.some(Boolean));
}

/** @param {string} text */
function separatorOf(text) {
  const first = text.split(/[\r\n]/).find((line) => line.trim()) ?? "";
  const counts = PARTED_BY.map((each) => first.split(each).length);
  return PARTED_BY[counts[0] > 1 ? 0 : counts.indexOf(Math.max(...counts))];
}

/**
 * What each column seems to be, and whether the first row says so.
 *
 * @param {string[][]} rows
 * @returns {{columns: string[], headed: boolean}}
 */
export function guessed(rows) {
  const [first = []] = rows;
  const named = first.map((cell) => Object.keys(HEADINGS).find((field) => HEADINGS[field].includes(cell.toLowerCase())) ?? "");
  const once = named.map((field, index) => (named.indexOf(field) === index ? field : ""));
  const headed = once.includes("name");
  return { columns: headed ? once : ["name", "division", "home"].slice(0, first.length).concat(first.slice(3).map(() => "")), headed };
}

/**
 * The entries that a table adds to those that are there: who is there already, by id or by name and division, is brought up
 * to date instead. A division that is not there yet is added.
 *
 * @param {string[][]} rows without the heading
 * @param {readonly string[]} columns what each column is
 * @param {{entries: readonly Entry[], divisions: readonly {id: string, name: string}[], fallback: string}} known `fallback`: the
 *   division of those who name none
 * @returns {{entries: Entry[], divisions: {id: string, name: string}[], added: number, changed: number}}
 */
export function entriesOf(rows, columns, { entries, divisions, fallback }) {
  const [all, own] = [[...entries], [...divisions]];
  let [added, changed] = [0, 0];
  for (const row of rows) {
    const said = Object.fromEntries(columns.map((field, at) => [field, row[at] ?? ""]).filter(([field, cell]) => field && cell));
    if (!said.name) continue;
    const division = said.division ? divisionOf(said.division, own) : fallback;
    const made = { ...said, division, ...(said.points_before && { points_before: numberOf(said.points_before) }) };
    const at = all.findIndex((each) => (said.id ? each.id === said.id : same(each.name, said.name) && each.division === division));
    if (at >= 0) all[at] = { ...all[at], ...made };
    else all.push(/** @type {Entry} */ ({ id: freshId(said.id || slug(said.name), all.map(({ id }) => id), "entry"), ...without(made, "id") }));
    if (at >= 0) changed += 1;
    else added += 1;
  }
  return { entries: /** @type {Entry[]} */ (all), divisions: own, added, changed };
}

/**
 * @param {string} said
 * @param {{id: string, name: string}[]} known a division that is not there is added
 */
function divisionOf(said, known) {
  const found = known.find(({ id, name }) => same(id, said) || same(name, said));
  if (found) return found.id;
  const id = freshId(slug(said), known.map((each) => each.id), "division");
  known.push({ id, name: said });
  return id;
}

/** A comma may stand for the decimal point. @param {string} text */
function numberOf(text) {
  const number = Number(text.replace(",", "."));
  return Number.isFinite(number) ? number : text;
}

/** @param {string} one @param {string} other */
function same(one, other) {
  return one.trim().toLowerCase() === other.trim().toLowerCase();
}

/** @param {Record<string, unknown>} table @param {string} field */
function without(table, field) {
  const { [field]: _, ...rest } = table;
  return rest;
}

/**
 * A name as an id: plain small letters, figures and hyphens; empty where the name has none.
 *
 * @param {string} name
 */
function slug(name) {
  const plain = name.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  return plain.replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40);
}

/**
 * An id that is not taken.
 *
 * @param {string} wanted
 * @param {readonly unknown[]} taken
 * @param {string} kind for those whose name makes none
 */
export function freshId(wanted, taken, kind) {
  if (wanted && !taken.includes(wanted)) return wanted;
  const stem = wanted || kind;
  for (let number = wanted ? 2 : 1; ; number += 1) if (!taken.includes(`${stem}-${number}`)) return `${stem}-${number}`;
}
