/**
 * Draws the form, and tells what is typed and pressed.
 *
 * @typedef {import("./form.js").Field} Field
 * @typedef {import("./form.js").Group} Group
 * @typedef {import("./form.js").List} List
 * @typedef {import("./reducer.js").MakeState} MakeState
 * @typedef {(event: import("./reducer.js").MakeEvent) => void} Dispatch
 */

import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { alsoThere, fieldsOf, formOf, listsOf, placeOf } from "./form.js";
import { COLUMNS } from "./pasted.js";
import { pathText, valueAt } from "./paths.js";
import { isDirty, mayRun, maySave, shownValue, typedValue } from "./reducer.js";
import { say } from "../shared/say.js";
import { itemText, labelOf, problemText, shownText, stateText } from "./words.js";

/** So many of a list are drawn; a search finds the others. */
const SHOWN_MOST = 60;
const SAMPLE_ROWS = 4;
const YES_NO = /** @type {[string, string][]} */ ([["", say("make.no")], ["true", say("make.yes")]]);
/** Kinds that stand in one line. */
const DENSE = ["division", "entry", "station", "points", "output"];

export class Screen {
  #root;
  #dispatch;
  /** @type {Map<string, string>} problems by the place of the field that shows them */
  #problems = new Map();
  /** @type {[string, string][]} */
  #entries = [];
  /** @type {MakeState} */
  #state;

  /**
   * @param {HTMLElement} root
   * @param {Dispatch} dispatch
   * @param {MakeState} state
   */
  constructor(root, dispatch, state) {
    this.#root = root;
    this.#dispatch = dispatch;
    this.#state = state;
    this.#typed("find", (text) => ({ type: "find", text }));
    this.#typed("paste", (text) => ({ type: "paste", text }));
    this.#typed("fallback", (division) => ({ type: "fallback", division }));
    const headed = /** @type {HTMLInputElement} */ (this.#part("headed"));
    headed.onchange = () => dispatch({ type: "headed", headed: headed.checked });
    this.#part("take-pasted").onclick = () => {
      dispatch({ type: "takePasted" });
      /** @type {HTMLTextAreaElement} */ (this.#part("paste")).value = "";
    };
    this.#part("undo").onclick = () => dispatch({ type: "undo" });
    this.#part("discard").onclick = () => dispatch({ type: "discard" });
  }

  /** @param {MakeState} state */
  draw(state) {
    this.#state = state;
    const { file, data, problems } = state;
    if (!file) return;
    const form = formOf(data, file.formats);
    const places = [...listsOf(form), ...fieldsOf(form)].map(({ path }) => pathText(path));
    const found = problems.map((problem) => ({ place: placeOf(places, problem.path) ?? "", at: problem.said.at, text: problemText(problem) }));
    this.#problems = new Map(found.toReversed().map(({ place, text }) => [place, text]));
    this.#entries = (data.entry ?? []).map((/** @type {any} */ { id, name }) => [String(id), String(name ?? id)]);
    for (const { id, groups, lists } of form) {
      this.#drawGroups(this.#part(`groups-${id}`), groups, "");
      this.#drawLists(this.#part(`lists-${id}`), lists);
    }
    this.#drawState(state, alsoThere(data, form));
    this.#drawProblems(found);
    this.#drawPasted(state);
    this.#drawDeal(state);
  }

  /** @param {string} name */
  #part(name) {
    return part(this.#root, name);
  }

  /** @param {string} name @param {(text: string) => import("./reducer.js").MakeEvent} event */
  #typed(name, event) {
    const field = /** @type {HTMLInputElement} */ (this.#part(name));
    field.oninput = () => this.#dispatch(event(field.value));
  }

  /** @param {MakeState} state @param {string[]} also */
  #drawState(state, also) {
    const { file, problems, said, wrong, past } = state;
    setText(this.#part("file"), file?.name ?? "");
    setText(this.#part("state"), stateText(problems.length, state.checked, isDirty(state)));
    setAttr(this.#part("state"), "data-wrong", state.checked && problems.length > 0);
    setText(this.#part("said"), said);
    setAttr(this.#part("said"), "data-wrong", wrong);
    setAttr(this.#part("save"), "disabled", !maySave(state));
    setAttr(this.#part("undo"), "disabled", !past.length);
    setAttr(this.#part("discard"), "disabled", !isDirty(state));
    for (const name of ["rehearse", "run"]) setAttr(this.#part(name), "disabled", !mayRun(state));
    setAttr(this.#part("also"), "hidden", !also.length);
    setText(this.#part("also-list"), also.join(", "));
    setText(this.#part("text"), file?.text ?? "");
    setAttr(this.#part("written"), "hidden", !file?.text);
    setAttr(this.#part("form"), "hidden", file?.data === null);
  }

  /** @param {{place: string, at: string, text: string}[]} problems */
  #drawProblems(problems) {
    setAttr(this.#part("problems"), "hidden", !problems.length);
    const shown = problems.slice(0, SHOWN_MOST);
    keyedChildren(this.#part("problem-list"), shown.map((_, index) => index), () => stamp(this.#root, "problem-template"), (item, index) => {
      const { place, at, text } = shown[Number(index)];
      setText(part(item, "where"), at);
      setText(part(item, "what"), text);
      part(item, "go").onclick = () => this.#go(place);
    });
  }

  /** Go to where something is to be put right. @param {string} place */
  #go(place) {
    const near = this.#root.querySelector(`[data-at="${CSS.escape(place)}"]`);
    const input = near?.querySelector("input, select") ?? near?.querySelector("button");
    if (input instanceof HTMLElement) input.focus();
  }

  /** @param {HTMLElement} parent @param {List[]} lists */
  #drawLists(parent, lists) {
    const make = (/** @type {string} */ name) => {
      const list = lists.find((each) => pathText(each.path) === name);
      const made = stamp(this.#root, "list-template");
      const kind = list?.kind ?? "";
      setAttr(made, "data-kind", kind);
      setAttr(part(made, "groups"), "data-dense", DENSE.includes(kind));
      setText(part(made, "add"), say(`make.add.${kind}`));
      return made;
    };
    keyedChildren(parent, lists.map(({ path }) => pathText(path)), make, (made, name) => {
      const { path, kind, groups } = /** @type {List} */ (lists.find((each) => pathText(each.path) === name));
      made.dataset.at = name;
      setText(part(made, "problem"), this.#problems.get(name) ?? "");
      const add = part(made, "add");
      add.onclick = () => {
        this.#dispatch({ type: "add", path, kind });
        const [first] = part(made, "groups").lastElementChild?.querySelectorAll("input, select") ?? [];
        if (first instanceof HTMLElement) first.focus();
      };
      const found = kind === "entry" ? groups.filter(({ path: at, title }) => this.#isFound(at, title)) : groups;
      const shown = kind === "entry" ? found.slice(0, SHOWN_MOST) : found;
      this.#drawGroups(part(made, "groups"), shown, kind, add);
      if (kind === "entry") setText(this.#part("shown"), shownText(shown.length, groups.length));
    });
  }

  /** Somebody who searches finds by name; those with a problem are always there. @param {import("./paths.js").Path} path @param {string} title */
  #isFound(path, title) {
    const wanted = this.#state.find.trim().toLowerCase();
    return !wanted || title.toLowerCase().includes(wanted) || [...this.#problems.keys()].some((place) => place.startsWith(`${pathText(path)}.`));
  }

  /**
   * @param {HTMLElement} parent
   * @param {Group[]} groups
   * @param {string} kind empty: not one of several
   * @param {HTMLElement} [add] the button that gets the focus when one is taken away
   */
  #drawGroups(parent, groups, kind, add) {
    const byName = new Map(groups.map((each) => [pathText(each.path), each]));
    keyedChildren(parent, [...byName.keys()], () => this.#makeGroup(kind, add), (made, name) => {
      const group = /** @type {Group} */ (byName.get(name));
      made.dataset.place = name;
      const number = Number(group.path.at(-1)) + 1;
      setText(part(made, "title"), kind ? [itemText(kind, number), group.title].filter(Boolean).join(" · ") : "");
      this.#drawFields(part(made, "fields"), group.fields);
      const open = this.#state.open.has(name) || group.more.some(({ path }) => this.#problems.has(pathText(path)));
      setAttr(part(made, "toggle"), "hidden", !group.more.length);
      setAttr(part(made, "toggle"), "aria-expanded", String(open));
      setAttr(part(made, "toggle"), "aria-label", say(open ? "make.less_of" : "make.more_of", { what: kind ? itemText(kind, group.title || number) : group.title }));
      setText(part(made, "toggle"), say(open ? "make.less" : "make.more"));
      setAttr(part(made, "more"), "hidden", !open);
      this.#drawFields(part(made, "more"), open ? group.more : []);
      this.#drawFields(part(made, "lanes"), group.lanes);
      this.#drawLists(part(made, "lists"), group.lists);
      for (const act of ["up", "down", "remove"]) {
        setAttr(part(made, act), "hidden", !kind);
        setAttr(part(made, act), "aria-label", say(`make.act.${act}`, { what: kind ? itemText(kind, group.title || number) : "" }));
      }
    });
  }

  /** @param {string} kind @param {HTMLElement} [add] */
  #makeGroup(kind, add) {
    const made = stamp(this.#root, "group-template");
    made.dataset.kind = kind;
    const path = () => pathOf(made.dataset.place ?? "");
    part(made, "toggle").onclick = () => this.#dispatch({ type: "toggle", place: made.dataset.place ?? "" });
    part(made, "up").onclick = () => this.#dispatch({ type: "move", path: path(), by: -1 });
    part(made, "down").onclick = () => this.#dispatch({ type: "move", path: path(), by: 1 });
    part(made, "remove").onclick = () => {
      this.#dispatch({ type: "remove", path: path() });
      add?.focus();
    };
    return made;
  }

  /** @param {HTMLElement} parent @param {Field[]} fields */
  #drawFields(parent, fields) {
    const byName = new Map(fields.map((each) => [`${pathText(each.path)} ${each.kind}`, each]));
    keyedChildren(parent, [...byName.keys()], (name) => this.#makeField(/** @type {Field} */ (byName.get(name))), (made, name) => {
      const field = /** @type {Field} */ (byName.get(name));
      const place = pathText(field.path);
      const input = /** @type {HTMLInputElement | HTMLSelectElement} */ (made.querySelector("input, select"));
      setText(part(made, "label"), field.label);
      if (field.options || field.kind === "flag") this.#offer(input, field.options ?? YES_NO);
      const value = shownValue(valueAt(this.#state.data, field.path));
      if (field.kind === "entry") this.#offerEntry(/** @type {HTMLSelectElement} */ (input), value);
      else if (input instanceof HTMLSelectElement) this.#select(input, value, field);
      else if (input !== document.activeElement && input.value !== value) input.value = value;
      const problem = this.#problems.get(place);
      setText(part(made, "problem"), problem ?? "");
      setAttr(input, "aria-invalid", problem ? "true" : undefined);
    });
  }

  /** @param {Field} field */
  #makeField(field) {
    const made = stamp(this.#root, field.options || field.kind === "flag" || field.kind === "entry" ? "choice-template" : "field-template");
    const input = /** @type {HTMLInputElement | HTMLSelectElement} */ (made.querySelector("input, select"));
    const place = pathText(field.path);
    made.dataset.at = place;
    part(made, "problem").id = `problem ${place}`.replaceAll(" ", "-");
    setAttr(input, "aria-describedby", part(made, "problem").id);
    setAttr(input, "name", place);
    if (field.kind === "number") setAttr(input, "inputmode", "decimal");
    if (field.example) setAttr(input, "placeholder", field.example);
    input.addEventListener("input", () => this.#dispatch({ type: "set", path: field.path, value: typedValue(field.kind, input.value) }));
    if (field.kind === "entry") input.onfocus = () => this.#offer(input, [["", ""], ...this.#entries]);
    return made;
  }

  /** @param {Element} select @param {[string, string][]} options */
  #offer(select, options) {
    const shown = [...select.children].map((each) => `${/** @type {HTMLOptionElement} */ (each).value} ${each.textContent}`).join("\n");
    if (shown === options.map(([value, text]) => `${value} ${text}`).join("\n")) return;
    const before = /** @type {HTMLSelectElement} */ (select).value;
    select.replaceChildren(...options.map(([value, text]) => new Option(text, value)));
    if (options.some(([value]) => value === before)) /** @type {HTMLSelectElement} */ (select).value = before;
  }

  /** A lane offers everybody only when somebody is there to choose. @param {HTMLSelectElement} select @param {string} value */
  #offerEntry(select, value) {
    if (select === document.activeElement) return;
    const [, name = value] = this.#entries.find(([id]) => id === value) ?? [];
    this.#offer(select, [["", ""], ...(value ? [/** @type {[string, string]} */ ([value, name])] : [])]);
    select.value = value;
  }

  /** A value that is none of the choices stands there all the same. @param {HTMLSelectElement} select @param {string} value @param {Field} field */
  #select(select, value, field) {
    const wanted = value || field.options?.[0]?.[0] || "";
    if (![...select.options].some((each) => each.value === wanted)) select.add(new Option(wanted, wanted));
    if (select.value !== wanted) select.value = wanted;
  }

  /** @param {MakeState} state */
  #drawPasted({ pasted, data }) {
    setAttr(this.#part("pasted"), "hidden", !pasted);
    if (!pasted) return;
    const { rows, columns, headed } = pasted;
    /** @type {HTMLInputElement} */ (this.#part("headed")).checked = headed;
    const divisions = /** @type {[string, string][]} */ ((data.division ?? []).map((/** @type {any} */ { id, name }) => [String(id), String(name ?? id)]));
    this.#offer(this.#part("fallback"), divisions);
    const makeColumn = (/** @type {string} */ at) => {
      const made = stamp(this.#root, "column-template");
      const select = /** @type {HTMLSelectElement} */ (made.querySelector("select"));
      select.replaceChildren(...COLUMNS.map((field) => new Option(field ? labelOf(field) : say("make.leave_out"), field)));
      select.onchange = () => this.#dispatch({ type: "column", at: Number(at), field: select.value });
      return made;
    };
    keyedChildren(this.#part("columns"), columns.map((_, at) => at), makeColumn, (made, at) => {
      const number = Number(at);
      setText(part(made, "column"), say("make.column", { number: number + 1 }));
      /** @type {HTMLSelectElement} */ (made.querySelector("select")).value = columns[number];
      const sample = (headed ? rows.slice(1) : rows).slice(0, SAMPLE_ROWS).map((row) => row[number] ?? "");
      keyedChildren(part(made, "sample"), sample.map((_, index) => index), () => document.createElement("li"), (item, index) => setText(item, sample[Number(index)] || "–"));
    });
    const count = headed ? rows.length - 1 : rows.length;
    setText(this.#part("take-pasted"), say("make.take_rows", { n: count }));
    setAttr(this.#part("take-pasted"), "disabled", !columns.includes("name"));
  }

  /** @param {MakeState} state */
  #drawDeal({ data }) {
    const events = /** @type {[string, string][]} */ ((data.event ?? []).map((/** @type {any} */ { id, name }) => [String(id), String(name ?? id)]));
    this.#offer(this.#part("deal-event"), events);
    setAttr(this.#part("deal-button"), "disabled", !events.length || !this.#entries.length);
  }
}

/**
 * The place that a text names.
 *
 * @param {string} text as `pathText` writes it
 * @returns {(string | number)[]}
 */
function pathOf(text) {
  return [...text.matchAll(/([^.[\]]+)(?:\[(\d+)\])?/g)].flatMap(([, name, number]) => (number ? [name, Number(number) - 1] : [name]));
}

