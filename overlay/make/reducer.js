/**
 * What happens on the page where a competition is made: a state and an event make the next state and the effects that the
 * page carries out in their order. It asks no server and keeps nothing by itself.
 *
 * @typedef {import("./paths.js").Path} Path
 * @typedef {import("./paths.js").Data} Data
 * @typedef {{path: string, found: string, expected: string, said: {at: string, found: string, expected: string}}} Problem `said`: in the page's language
 * @typedef {{name: string, version: string, text: string, data: Data | null, problems: Problem[], formats: import("./form.js").Format[]}} File
 *
 * @typedef {object} MakeState never changed in place
 * @property {File} [file] as the server has it
 * @property {Data} data what stands on the page
 * @property {readonly Data[]} past what stood there before, to be taken back
 * @property {Problem[]} problems of what was checked last
 * @property {boolean} checked what stands here was checked
 * @property {number} turn of the newest check
 * @property {string} said
 * @property {boolean} wrong what is said is a problem
 * @property {ReadonlySet<string>} open places whose rarer fields are shown
 * @property {string} find
 * @property {Pasted | undefined} pasted
 * @property {{port: number, table: string, desk: string} | undefined} show the rehearsal that runs
 *
 * @typedef {{rows: string[][], columns: string[], headed: boolean, fallback: string}} Pasted
 *
 * @typedef {{type: "told", file: File, draft?: Data}} Told the server has the file so; `draft`: what this device kept of it
 * @typedef {{type: "set", path: Path, value: unknown}} ValueSet undefined: nothing is said
 * @typedef {{type: "add", path: Path, kind: string}} Added
 * @typedef {{type: "remove", path: Path}} Removed
 * @typedef {{type: "move", path: Path, by: 1 | -1}} Moved
 * @typedef {{type: "undo"} | {type: "discard"}} TakenBack
 * @typedef {{type: "toggle", place: string} | {type: "find", text: string}} Looked
 * @typedef {{type: "paste", text: string} | {type: "column", at: number, field: string} | {type: "headed", headed: boolean}} Pasting
 * @typedef {{type: "fallback", division: string} | {type: "takePasted"}} PastedTaken
 * @typedef {{type: "checked", turn: number, problems: Problem[]}} Checked
 * @typedef {{type: "dealt", event: string, heats: {division: string, lanes: Record<string, string>}[]}} Dealt
 * @typedef {{type: "say", text: string, wrong?: boolean, problems?: Problem[]}} Said
 * @typedef {{type: "saved", file: File}} Saved
 * @typedef {{type: "show", show: MakeState["show"]}} Shown
 * @typedef {Told | ValueSet | Added | Removed | Moved | TakenBack | Looked | Pasting | PastedTaken | Checked | Dealt | Said | Saved | Shown} MakeEvent
 *
 * @typedef {{do: "check", turn: number, data: Data} | {do: "keep", version: string, data: Data | undefined}} MakeEffect
 */

import { cellsOf, entriesOf, freshId, guessed } from "./pasted.js";
import { moved, valueAt, withValue } from "./paths.js";
import { say } from "../shared/say.js";
import { itemText, nameText, pastedText } from "./words.js";

const PAST_MOST = 100;
/** Places to which points go in a new file: enough for a field of twenty. */
const FIRST = { id: "points", first: 100, step: 5 };

/** @returns {MakeState} */
export function openMaker() {
  return { file: undefined, data: {}, past: [], problems: [], checked: false, turn: 0, said: "", wrong: false, open: new Set(), find: "", pasted: undefined, show: undefined };
}

/**
 * @param {MakeState} state
 * @param {MakeEvent} event
 * @returns {{state: MakeState, effects: MakeEffect[]}}
 */
export function reduce(state, event) {
  const after = STEPS[event.type](state, event);
  if (after.data === state.data && event.type !== "told") return { state: after, effects: [] };
  const turn = state.turn + 1;
  const version = after.file?.version ?? "";
  const kept = isDirty(after) ? after.data : undefined;
  return {
    state: { ...after, turn, checked: false },
    effects: [{ do: "keep", version, data: kept }, { do: "check", turn, data: after.data }],
  };
}

/** Something stands here that the file does not say. @param {MakeState} state */
export function isDirty({ file, data }) {
  return file !== undefined && file.data !== null && JSON.stringify(data) !== JSON.stringify(file.data);
}

/** It can be saved. @param {MakeState} state */
export function maySave(state) {
  return state.checked && !state.problems.length && isDirty(state);
}

/** What is saved can be rehearsed and run. @param {MakeState} state */
export function mayRun(state) {
  return state.checked && !state.problems.length && !isDirty(state) && state.file?.version !== "";
}

/** @type {Record<MakeEvent["type"], (state: MakeState, event: any) => MakeState>} */
const STEPS = {
  told: (state, /** @type {Told} */ { file, draft }) => ({ ...state, file, past: [], data: draft ?? (file.version ? (file.data ?? {}) : freshFile(file)), problems: file.problems }),
  set: (state, { path, value }) => changed(state, withValue(state.data, path, value)),
  add: (state, { path, kind }) => changed(state, withValue(state.data, path, [...(valueAt(state.data, path) ?? []), fresh(state, kind)])),
  remove: (state, { path }) => changed(state, withValue(state.data, path, undefined)),
  move: (state, { path, by }) => changed(state, withValue(state.data, path.slice(0, -1), moved(valueAt(state.data, path.slice(0, -1)), path.at(-1), by))),
  undo: (state) => (state.past.length ? { ...state, data: state.past.at(-1), past: state.past.slice(0, -1), said: say("make.undone"), wrong: false } : state),
  discard: (state) => changed(state, state.file?.version ? state.file.data : freshFile(/** @type {File} */ (state.file))),
  toggle: (state, { place }) => ({ ...state, open: toggled(state.open, place) }),
  find: (state, { text }) => ({ ...state, find: text }),
  paste: (state, { text }) => ({ ...state, pasted: pastedOf(state, text) }),
  column: (state, { at, field }) => withPasted(state, ({ columns }) => ({ columns: columns.map((each, index) => (index === at ? field : each === field ? "" : each)) })),
  headed: (state, { headed }) => withPasted(state, () => ({ headed })),
  fallback: (state, { division }) => withPasted(state, () => ({ fallback: division })),
  takePasted: takePasted,
  checked: (state, { turn, problems }) => (turn === state.turn ? { ...state, problems, checked: true } : state),
  dealt: (state, /** @type {Dealt} */ { event, heats }) => changed(state, withValue(state.data, ["heat"], dealt(state.data, event, heats))),
  say: (state, { text, wrong = false, problems }) => ({ ...state, said: text, wrong, ...(problems && { problems }) }),
  saved: (state, { file }) => ({ ...state, file, data: file.data, past: [...state.past, state.data].slice(-PAST_MOST), problems: file.problems, said: say("make.saved"), wrong: false }),
  show: (state, { show }) => ({ ...state, show, said: "", wrong: false }),
};

/** @param {MakeState} state @param {Data} data */
function changed(state, data) {
  return { ...state, data, past: [...state.past, state.data].slice(-PAST_MOST), said: "", wrong: false };
}

/** @param {ReadonlySet<string>} set @param {string} place */
function toggled(set, place) {
  const made = new Set(set);
  if (!made.delete(place)) made.add(place);
  return made;
}

/** What a file that is not there yet begins with. @param {File} file */
function freshFile({ formats }) {
  return {
    competition: {},
    division: [{ id: "open", name: say("make.open_division") }],
    points: [FIRST],
    entry: [],
    event: [{ id: "event-1", name: nameText(itemText("event", 1)), workout: freshWorkout(formats[0]?.name ?? "") }],
    heat: [],
  };
}

/** @param {string} format */
function freshWorkout(format) {
  return { format, rounds: 1, time_cap: "10:00", station: [{}] };
}

/** One more of a kind. @param {MakeState} state @param {string} kind */
function fresh({ data, file }, kind) {
  if (kind === "station") return {};
  const taken = (data[kind] ?? []).map((/** @type {any} */ each) => each.id);
  const id = freshId("", taken, kind);
  const name = nameText(itemText(kind, taken.length + 1));
  const first = (/** @type {string} */ list) => data[list]?.[0]?.id;
  if (kind === "entry") return { id, ...(first("division") && { division: first("division") }) };
  if (kind === "event") return { id, name, workout: freshWorkout(file?.formats[0]?.name ?? "") };
  if (kind === "points") return { ...FIRST, id };
  if (kind === "heat") return { id, name, ...(data.event?.length && { event: data.event.at(-1).id }) };
  return { id, name };
}

/** @param {MakeState} state @param {string} text @returns {Pasted | undefined} */
function pastedOf({ data }, text) {
  const rows = cellsOf(text);
  return rows.length ? { rows, ...guessed(rows), fallback: data.division?.[0]?.id ?? "" } : undefined;
}

/** @param {MakeState} state @param {(pasted: Pasted) => Partial<Pasted>} change */
function withPasted(state, change) {
  return state.pasted ? { ...state, pasted: { ...state.pasted, ...change(state.pasted) } } : state;
}

/** @param {MakeState} state */
function takePasted(state) {
  const { data, pasted } = state;
  if (!pasted) return state;
  const { rows, headed, columns, fallback } = pasted;
  const took = entriesOf(headed ? rows.slice(1) : rows, columns, { entries: data.entry ?? [], divisions: data.division ?? [], fallback });
  const after = changed(state, { ...data, division: took.divisions, entry: took.entries });
  return { ...after, pasted: undefined, said: pastedText(took) };
}

/**
 * The heats with those of one event made anew, in their running order.
 *
 * @param {Data} data
 * @param {string} event
 * @param {Dealt["heats"]} heats
 */
function dealt(data, event, heats) {
  const others = (data.heat ?? []).filter((/** @type {any} */ each) => each.event !== event);
  const before = (data.heat ?? []).filter((/** @type {any} */ each) => each.event === event);
  const taken = others.map((/** @type {any} */ each) => each.id);
  const several = (data.division ?? []).length > 1;
  const made = heats.map(({ division, lanes }, index) => {
    const number = heats.slice(0, index + 1).filter((each) => each.division === division).length;
    const name = data.division?.find((/** @type {any} */ each) => each.id === division)?.name ?? division;
    const id = before[index]?.id ?? freshId(`${event}-${index + 1}`, taken, "heat");
    taken.push(id);
    return { ...before[index], id, name: nameText(several ? say("make.heat_of", { division: name, number }) : itemText("heat", number)), event, lanes };
  });
  const at = data.heat?.findIndex((/** @type {any} */ each) => each.event === event) ?? -1;
  const ahead = at < 0 ? others.length : others.filter((/** @type {any} */ each) => data.heat.indexOf(each) < at).length;
  return [...others.slice(0, ahead), ...made, ...others.slice(ahead)];
}

/**
 * The value of a field as it was typed; undefined for nothing.
 *
 * @param {import("./form.js").Field["kind"]} kind
 * @param {string} text
 * @returns {unknown}
 */
export function typedValue(kind, text) {
  const plain = text.trim();
  if (!plain) return undefined;
  if (kind === "flag") return plain === "true" || undefined;
  if (kind === "number") return numberOf(plain);
  if (kind === "numbers") return plain.split(/[\s,;]+/).filter(Boolean).map(numberOf);
  return kind === "names" ? plain.split(/[\s,;]+/).filter(Boolean) : text;
}

/** @param {string} text */
function numberOf(text) {
  const number = Number(text);
  return Number.isFinite(number) ? number : text;
}

/** How a value stands in its field. @param {unknown} value */
export function shownValue(value) {
  return Array.isArray(value) ? value.join(", ") : value === undefined ? "" : String(value);
}

