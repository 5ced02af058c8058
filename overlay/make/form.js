/**
 * What the page asks of a competition: every part of the file as fields, groups and lists. Pure; nothing here names a
 * format: the server says which there are, and what each asks besides.
 *
 * @typedef {import("./paths.js").Path} Path
 * @typedef {import("./paths.js").Data} Data
 *
 * @typedef {object} Field one value
 * @property {Path} path
 * @property {string} label
 * @property {"text" | "number" | "numbers" | "names" | "choice" | "flag" | "entry"} kind
 * @property {[string, string][]} [options] value and words; the first is what holds where nothing is said
 * @property {string} [example]
 *
 * @typedef {object} Group some fields, more of them that few need, and lists
 * @property {Path} path
 * @property {string} title
 * @property {Field[]} fields
 * @property {Field[]} more
 * @property {Field[]} lanes of a heat
 * @property {List[]} lists
 *
 * @typedef {object} List several of a kind
 * @property {Path} path
 * @property {string} kind
 * @property {Group[]} groups
 *
 * @typedef {object} Section
 * @property {string} id
 * @property {Group[]} groups that are there once
 * @property {List[]} lists
 *
 * @typedef {{name: string, field?: string, schema?: any}} Format as the server tells it
 */

import { pathText, valueAt } from "./paths.js";
import { say } from "../shared/say.js";
import { EXAMPLES, choiceText, formatText, labelOf, languageText } from "./words.js";

/** Lanes that a heat offers where it has fewer. */
const LANES_LEAST = 10;
const LANES_MOST = 99;
const UNITS = ["reps", "metres", "calories", "seconds"];
const SIZES = ["1920x1080", "1080x1920"];
const LANGUAGES = ["en", "es", "fr", "ar", "ja"];
const TIMECODES = ["24", "25", "30", "50", "60", "29.97", "29.97 drop", "59.94", "59.94 drop"];

/**
 * The whole form, of a file as it stands.
 *
 * @param {Data} data
 * @param {readonly Format[]} formats
 * @returns {Section[]}
 */
export function formOf(data, formats) {
  const once = (/** @type {string} */ id, /** @type {Group[]} */ groups) => ({ id, groups, lists: [] });
  const several = (/** @type {string} */ id, /** @type {(path: Path) => Group} */ each) => ({ id, groups: [], lists: [listOf(data, [id], id, each)] });
  const points = several("points", (path) => pointsGroup(data, path));
  return [
    once("competition", [group(data, ["competition"], ["name"], [LANGUAGE, choice("time_decimals", ["3", "0", "1", "2"]), choice("time_rounding", ["down", "up"])])]),
    several("division", (path) => group(data, path, ["name"], ["id"])),
    several("entry", (path) => entryGroup(data, path)),
    several("event", (path) => eventGroup(data, path, formats)),
    { ...points, groups: [group(data, ["standings"], [choice("order", ["most", "fewest"]), "drop_worst"], ["ties"])] },
    several("heat", (path) => heatGroup(data, path)),
    several("output", (path) => outputGroup(data, path)),
  ];
}

/**
 * @param {Data} data
 * @param {Path} path
 * @param {string} kind
 * @param {(path: Path) => Group} each
 * @returns {List}
 */
function listOf(data, path, kind, each) {
  const items = valueAt(data, path);
  return { path, kind, groups: (Array.isArray(items) ? items : []).map((_, index) => each([...path, index])) };
}

/** @typedef {string | {name: string, options: [string, string][]}} Asked a field by its name, or a choice */

/**
 * @param {string} name
 * @param {string[]} values
 * @returns {Asked}
 */
function choice(name, values) {
  return { name, options: values.map((value) => [value, choiceText(value)]) };
}

/** @type {[string, string][]} */
const SPOKEN = LANGUAGES.map((each) => [each, languageText(each)]);
/** @type {Asked} */
const LANGUAGE = { name: "language", options: SPOKEN };
/** An output without one has the competition's. @type {Asked} */
const OWN_LANGUAGE = { name: "language", options: [["", ""], ...SPOKEN] };

/** @param {Data} data @param {string} list what is to be chosen from @returns {[string, string][]} */
function named(data, list) {
  const items = valueAt(data, [list]);
  return (Array.isArray(items) ? items : []).map(({ id, name }) => [String(id ?? ""), String(name ?? id ?? "")]);
}

const NUMBERS = new Set(["amount", "rounds", "expected_seconds", "touch_guard_ms", "minimum_reps", "members", "first", "step", "least", "drop_worst", "points_before", "delay_seconds", "hold_seconds", "time_decimals"]);

/**
 * @param {Path} path
 * @param {Asked} asked
 * @returns {Field}
 */
function field(path, asked) {
  const name = typeof asked === "string" ? asked : asked.name;
  const last = /** @type {string} */ (name.split(".").at(-1));
  const kind = typeof asked !== "string" ? "choice" : NUMBERS.has(last) || name.startsWith("tie_break") ? "number" : last === "places" ? "numbers" : last === "ties" ? "names" : last === "seeded_later" ? "flag" : "text";
  return {
    path: [...path, ...name.split(".")],
    label: labelOf(last),
    kind,
    ...(typeof asked !== "string" && { options: asked.options }),
    ...(EXAMPLES[last] && { example: EXAMPLES[last] }),
  };
}

/**
 * @param {Data} data
 * @param {Path} path
 * @param {Asked[]} asked
 * @param {Asked[]} [more]
 * @returns {Group}
 */
function group(data, path, asked, more = []) {
  const own = valueAt(data, path);
  return {
    path,
    title: String(own?.name || own?.movement || own?.id || ""),
    fields: asked.map((each) => field(path, each)),
    more: more.map((each) => field(path, each)),
    lanes: [],
    lists: [],
  };
}

/** @param {Data} data @param {Path} path */
function entryGroup(data, path) {
  const division = { name: "division", options: named(data, "division") };
  return group(data, path, ["name", division, "short", "home"], ["points_before", "age_class", "say", "ipa", "id"]);
}

/** @param {Data} data @param {Path} path */
function pointsGroup(data, path) {
  const own = valueAt(data, path);
  const made = group(data, path, ["first", "step", "places"], ["least", "id"]);
  return { ...made, title: String(own?.id ?? "") };
}

/** @param {Data} data @param {Path} path */
function outputGroup(data, path) {
  const floors = named(data, "floor");
  const floor = floors.length ? [{ name: "floor", options: floors }] : [];
  return group(data, path, ["name", choice("size", SIZES), "delay_seconds", ...floor], ["hold_seconds", OWN_LANGUAGE, choice("timecode", ["", ...TIMECODES]), "id"]);
}

/** @param {Data} data @param {Path} path @param {readonly Format[]} formats */
function eventGroup(data, path, formats) {
  const at = (/** @type {string} */ name) => `workout.${name}`;
  const workout = valueAt(data, [...path, "workout"]) ?? {};
  const format = formats.find(({ name }) => name === workout.format);
  const which = { name: at("format"), options: /** @type {[string, string][]} */ (formats.map(({ name }) => [name, formatText(name)])) };
  const tables = { name: "points", options: /** @type {[string, string][]} */ ([["", say("make.as_standing")], ...named(data, "points").map(([id]) => [id, id])]) };
  const own = format?.schema ? ownFields([...path, "workout", format.field ?? ""], format) : [];
  const team = [choice(at("team.form"), ["", "relay", "synchro", "shared"]), at("team.members")];
  const made = group(data, path, ["name", which, at("time_cap"), ...(workout.round ? [] : [at("rounds")])], [at("minimum_reps"), at("tie_break.round"), at("tie_break.station"), ...team, tables, choice("ties", ["share_better", "mean"]), "id"]);
  const stations = listOf(data, [...path, "workout", "station"], "station", (station) => stationGroup(data, station));
  return { ...made, fields: [...made.fields, ...own], lists: workout.round ? [] : [stations] };
}

/** @param {Data} data @param {Path} path */
function stationGroup(data, path) {
  const made = group(data, path, ["movement", "amount", choice("unit", UNITS), choice("credit", ["unit", "block"])], ["expected_seconds", "touch_guard_ms"]);
  const loads = named(data, "division").map(([id, name]) => ({ path: [...path, "loads", id], label: say("make.load", { division: name }), kind: /** @type {const} */ ("text") }));
  return { ...made, more: [...made.more, ...loads] };
}

/**
 * The fields that a format has of its own, from the description of its table.
 *
 * @param {Path} path
 * @param {Format} format with a description
 * @returns {Field[]}
 */
function ownFields(path, { name: format, schema }) {
  const fields = schema.type === "object" ? Object.entries(schema.properties) : [[path.at(-1), schema]];
  return fields.map(([name, each]) => {
    const kind = each.anyOf?.[0] ?? each;
    const place = schema.type === "object" ? [...path, name] : path;
    const label = labelOf(name, format);
    if (kind.enum) return { path: place, label, kind: "choice", options: inFront(each.default, kind.enum).map((/** @type {string} */ value) => [value, choiceText(value, format)]) };
    const kinds = /** @type {const} */ ({ boolean: "flag", array: "numbers", integer: "number", number: "number" });
    return { path: place, label, kind: kinds[/** @type {keyof typeof kinds} */ (kind.type)] ?? "text", ...(kind.examples && { example: String(kind.examples[0]) }) };
  });
}

/** @param {string} first @param {string[]} all */
function inFront(first, all) {
  return [...new Set([first, ...all])].filter((each) => each !== undefined);
}

/** @param {Data} data @param {Path} path */
function heatGroup(data, path) {
  const floors = named(data, "floor");
  const floor = floors.length ? [{ name: "floor", options: floors }] : [];
  const made = group(data, path, ["name", { name: "event", options: named(data, "event") }, ...floor], ["start", "seeded_later", "id"]);
  const lanes = Object.keys(valueAt(data, [...path, "lanes"]) ?? {}).map(Number);
  const most = Math.min(Math.max(LANES_LEAST, ...lanes.filter(Number.isInteger)), LANES_MOST);
  const own = Array.from({ length: most }, (_, index) => ({ path: [...path, "lanes", String(index + 1)], label: say("shared.lane", { lane: index + 1 }), kind: /** @type {const} */ ("entry") }));
  return { ...made, lanes: own };
}

/**
 * Every field of a form, wherever it stands.
 *
 * @param {readonly Section[]} form
 * @returns {Field[]}
 */
export function fieldsOf(form) {
  return form.flatMap(({ groups, lists }) => [...groups, ...lists.flatMap((list) => list.groups)]).flatMap(fieldsIn);
}

/**
 * Every list of a form, wherever it stands.
 *
 * @param {readonly Section[]} form
 * @returns {List[]}
 */
export function listsOf(form) {
  const lists = form.flatMap((section) => section.lists);
  return [...lists, ...lists.flatMap(({ groups }) => groups).flatMap((group) => group.lists)];
}

/** @param {Group} group @returns {Field[]} */
function fieldsIn({ fields, more, lanes, lists }) {
  return [...fields, ...more, ...lanes, ...lists.flatMap(({ groups }) => groups).flatMap(fieldsIn)];
}

/**
 * What the file says and the form does not show, by its place without numbers. It is kept as it is.
 *
 * @param {Data} data
 * @param {readonly Section[]} form
 * @returns {string[]} such as `event.part`
 */
export function alsoThere(data, form) {
  const known = new Set(fieldsOf(form).map(({ path }) => pathText(path)));
  const found = new Set(leaves(data, []).filter((path) => !known.has(pathText(path))).map(plainPlace));
  return [...found].sort();
}

/** @param {Path} path */
function plainPlace(path) {
  const names = path.filter((step) => typeof step === "string");
  // Two names say enough: what is inside a part of the file that is not shown is not shown either.
  return names.slice(0, names[1] === "workout" ? 3 : 2).join(".");
}

/**
 * @param {Data} value
 * @param {Path} path
 * @returns {Path[]}
 */
function leaves(value, path) {
  if (Array.isArray(value)) return value.every((each) => typeof each === "object") ? value.flatMap((each, index) => leaves(each, [...path, index])) : [path];
  if (typeof value !== "object" || value === null) return [path];
  return Object.entries(value).flatMap(([name, each]) => leaves(each, [...path, name]));
}

/**
 * The field or list at which a problem is to be shown: its own, or the first one inside the place that it names, or the
 * first one of what that is in.
 *
 * @param {readonly string[]} places of fields and lists, as the server writes them
 * @param {string} path of the problem
 * @returns {string | undefined}
 */
export function placeOf(places, path) {
  if (places.includes(path)) return path;
  const inside = places.find((place) => place.startsWith(`${path}.`) || place.startsWith(`${path}[`));
  if (inside) return inside;
  const outer = path.slice(0, Math.max(path.lastIndexOf("."), path.lastIndexOf("["), 0));
  return outer ? placeOf(places, outer) : undefined;
}
