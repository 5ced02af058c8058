/**
 * Draws the desk: two monitors, the outputs, the rundown, the views, who they can be about, the automatic mode, the keys.
 *
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").ShowFrame} ShowFrame
 * @typedef {import("../shared/types.js").OutputData} OutputData
 * @typedef {import("./lines.js").Hand} Hand
 *
 * @typedef {import("./state.js").DeskState} DeskState
 * @typedef {(event: import("./reducer.js").DeskEvent) => void} Dispatch
 */

import { resultText } from "../formats/registry.js";
import { LONGEST_DELAY_MS } from "../shared/delay.js";
import { keyedChildren, part, setAttr, setText, setVar, stamp } from "../shared/dom.js";
import { onItsFloor } from "../shared/floor.js";
import { clockText, isolate } from "../shared/format.js";
import { figures, say } from "../shared/say.js";
import { placeText } from "../shared/standing.js";
import { choices, introductions, itemText, namesText, refusal, subjectText, titleOf } from "./items.js";
import { ACTIONS } from "./keys.js";
import { floorAt } from "./state.js";

const FOLLOWS = ["leader", "fastest", "finisher"];

export class Screen {
  #root;
  #dispatch;
  #shown = "";
  #prepared = "";

  /**
   * @param {HTMLElement} root
   * @param {Dispatch} dispatch
   */
  constructor(root, dispatch) {
    this.#root = root;
    this.#dispatch = dispatch;
    for (const id of ["take", "clear", "automatic", "later", "sooner", "add", "up", "down", "remove", "restore"]) this.#part(id).onclick = () => dispatch({ type: "act", id });
    this.#part("save-rundown").onclick = () => dispatch({ type: "saveRundown" });
    this.#part("usual-keys").onclick = () => dispatch({ type: "usualKeys" });
    const delay = this.#input("delay");
    delay.max = String(LONGEST_DELAY_MS / 1000);
    delay.onchange = () => dispatch({ type: "delay", ms: Number(delay.value) * 1000 });
    delay.onkeydown = ({ key }) => key === "Enter" && delay.blur(); // then the keys are the desk's again
    const heats = /** @type {HTMLSelectElement} */ (this.#part("heats"));
    heats.onchange = () => dispatch({ type: "heat", heat: heats.value });
  }

  /**
   * @param {DeskState} state
   * @param {Hand} hand
   * @param {number | undefined} clockMs
   * @param {string} stay what somebody has to know while there is no link
   */
  draw(state, hand, clockMs, stay) {
    this.#drawHead(state, clockMs, stay);
    for (const kbd of this.#root.querySelectorAll("[data-key]")) setText(kbd, state.keys.name(kbd.getAttribute("data-key") ?? ""));
    this.#drawKeys(state);
    const output = state.show?.outputs[state.output];
    if (!state.show || !output) return;
    this.#drawOutputs(state, state.show);
    this.#drawMonitors(state, state.show, output, hand);
    this.#drawRundown(state, state.show, output, hand);
    this.#drawViews(state, state.show, hand);
    this.#drawWho(state, hand);
    this.#drawAutomatic(state, state.show, output);
  }

  /** The page in the preview listens: tell it what to show. */
  previewIsReady() {
    this.#prepared = "";
  }

  /** @param {string} name */
  #part(name) {
    return part(this.#root, name);
  }

  /** @param {string} name */
  #input(name) {
    return /** @type {HTMLInputElement} */ (this.#part(name));
  }

  /**
   * @param {DeskState} state
   * @param {number | undefined} clockMs
   * @param {string} stay what somebody has to know while there is no link
   */
  #drawHead({ show, output, subjects, link, barred, message }, clockMs, stay) {
    const frame = subjects;
    const floor = show ? floorText(show, output) : "";
    setText(this.#part("title"), show ? say("desk.of_competition", { competition: show.competition.name }) : say("page.desk"));
    setAttr(this.#part("rehearsal"), "hidden", show?.mode !== "rehearsal");
    setText(this.#part("heat"), show && frame ? say("desk.on_floor", { floor, heat: titleText(show, frame.heat, floor), stage: say(`desk.stage_${frame.stage}`) }) : "");
    setText(this.#part("clock"), clockMs === undefined ? "–:––" : clockText(clockMs));
    setText(this.#part("link"), barred || (link.up ? say("desk.linked") : [say("desk.no_link"), stay].filter(Boolean).join(", ")));
    setAttr(this.#part("link"), "data-down", barred !== "" || !link.up);
    setText(this.#part("message"), message.until > Date.now() ? message.text : "");
  }

  /**
   * @param {DeskState} state
   * @param {ShowFrame} show
   */
  #drawOutputs(state, show) {
    const make = (/** @type {string} */ name) => {
      const button = stamp(this.#root, "output-template");
      button.onclick = () => this.#dispatch({ type: "output", name });
      return button;
    };
    keyedChildren(this.#part("outputs"), Object.keys(show.outputs), make, (button, name) => {
      const output = show.outputs[name];
      setAttr(button, "aria-pressed", String(name === state.output));
      setText(part(button, "name"), output.name);
      setText(part(button, "on"), output.programme ? itemText(output.programme, show) : say("desk.is_clear"));
    });
  }

  /**
   * @param {DeskState} state
   * @param {ShowFrame} show
   * @param {OutputData} output
   * @param {Hand} hand
   */
  #drawMonitors(state, show, output, hand) {
    this.#showOutput(state.output, output);
    const { item } = hand;
    const reason = item ? refusal(item, show, state.subjects) : undefined;
    setText(this.#part("prepared"), item ? item.name || itemText(item, show) : say("desk.nothing_prepared"));
    setText(this.#part("prepared-who"), item ? namesText(item, state.subjects, state.frame) : "");
    this.#drawIntroductions(item ? introductions(item, state.subjects, boothOf(state)) : []);
    setText(this.#part("refusal"), reason ? say("desk.cannot_go", { reason }) : "");
    setAttr(this.#part("take"), "aria-disabled", !item || reason !== undefined || !state.link.up ? "true" : "false");
    setAttr(this.#part("clear"), "aria-disabled", state.link.up ? "false" : "true");
    setText(this.#part("on-air"), output.programme ? itemText(output.programme, show) : say("desk.is_clear"));
    setText(this.#part("since"), sinceText(output));
    setText(this.#part("behind"), output.delay_ms ? say("desk.shown_behind", { seconds: figures(secondsText(output.delay_ms)) }) : say("desk.shown_at_once"));
    this.#prepare(onItsFloor(item, output.floor));
  }

  /** @param {ReturnType<typeof introductions>} lines */
  #drawIntroductions(lines) {
    setAttr(this.#part("introductions"), "hidden", lines.length === 0);
    keyedChildren(this.#part("introductions"), lines.map((_, index) => index), () => stamp(this.#root, "introduction-template"), (row, index) => {
      const { text, caution } = lines[Number(index)];
      setText(part(row, "text"), text);
      setText(part(row, "caution"), caution);
    });
  }

  /**
   * @param {string} name
   * @param {OutputData} output
   */
  #showOutput(name, { width, height }) {
    for (const monitor of ["preview", "programme"]) {
      setVar(this.#part(monitor), "--wide", String(width));
      setVar(this.#part(monitor), "--high", String(height));
    }
    if (this.#shown === name) return;
    this.#shown = name;
    const page = `../air/index.html?output=${encodeURIComponent(name)}`;
    setAttr(this.#part("preview-frame"), "src", `${page}&preview`);
    setAttr(this.#part("programme-frame"), "src", page);
  }

  /** @param {Item | undefined} item */
  #prepare(item) {
    const text = JSON.stringify(item ?? null);
    if (text === this.#prepared) return;
    this.#prepared = text;
    const frame = /** @type {HTMLIFrameElement} */ (this.#part("preview-frame"));
    frame.contentWindow?.postMessage({ type: "prepare", item }, location.origin);
  }

  /**
   * @param {DeskState} state
   * @param {ShowFrame} show
   * @param {OutputData} output
   * @param {Hand} hand
   */
  #drawRundown(state, show, { rundown }, hand) {
    setAttr(this.#part("no-rundown"), "hidden", rundown.length > 0);
    const keys = rundown.map((_, index) => index);
    keyedChildren(this.#part("rundown"), keys, (key) => this.#line(() => this.#dispatch({ type: "line", line: Number(key) })), (line, key) => {
      const item = rundown[Number(key)];
      const text = item.name ? `${item.name} · ${itemText(item, show)}` : itemText(item, show);
      this.#drawLine(line, { number: Number(key) + 1, text, note: refusal(item, show, state.subjects), on: hand.line === Number(key) });
    });
  }

  /**
   * @param {DeskState} state
   * @param {ShowFrame} show
   * @param {Hand} hand
   */
  #drawViews(state, show, hand) {
    const heats = /** @type {HTMLSelectElement} */ (this.#part("heats"));
    keyedChildren(heats, ["", ...Object.keys(show.heats)], () => document.createElement("option"), (option, id) => {
      setAttr(option, "value", id);
      setText(option, id ? show.heats[id].name : say("desk.the_heat_on", { floor: floorText(show, state.output) }));
    });
    const fresh = new Map(choices(show, state.subjects).map((item) => [`${item.view} ${item.params.part ?? ""}`, item]));
    const made = (/** @type {string} */ key) => this.#line(() => this.#dispatch({ type: "choose", item: /** @type {Item} */ (fresh.get(key)) }));
    keyedChildren(this.#part("views"), [...fresh.keys()], made, (line, key) => {
      const chosen = /** @type {Item} */ (fresh.get(String(key)));
      const item = state.heat ? { ...chosen, params: { ...chosen.params, heat: state.heat } } : chosen;
      const text = [titleOf(item.view, show), item.params.part && show.parts[item.params.part]].filter(Boolean).join(" · ");
      const on = hand.item?.view === item.view && hand.item?.params.part === item.params.part;
      this.#drawLine(line, { number: "", text, note: refusal(item, show, state.subjects), on });
    });
  }

  /**
   * @param {DeskState} state
   * @param {Hand} hand
   */
  #drawWho(state, hand) {
    const said = say(`desk.numbers_${state.battle ? "battle" : state.by}`);
    setText(this.#part("by"), said);
    const asked = hand.item?.params.who?.split(",") ?? [];
    const makeFollow = (/** @type {string} */ id) => {
      const button = document.createElement("button");
      button.type = "button";
      button.onclick = () => this.#dispatch({ type: "act", id });
      return button;
    };
    keyedChildren(this.#part("follows"), [...FOLLOWS, "battle"], makeFollow, (button, id) => {
      const words = id === "battle" ? say("desk.battle_for") : subjectText(id);
      setText(button, say("desk.with_key", { word: words, key: state.keys.name(id) }));
      setAttr(button, "aria-pressed", String(id === "battle" ? state.battle : asked.includes(id)));
    });
    const lanes = state.frame?.lanes ?? {};
    const held = state.subjects?.held ?? [];
    const numbers = [...Object.keys(lanes).map(Number), ...held.filter((lane) => !lanes[lane])].sort((a, b) => a - b);
    keyedChildren(this.#part("lanes"), numbers, (lane) => this.#line(() => this.#dispatch({ type: "pick", subject: `lane:${lane}` })), (line, number) => {
      const lane = lanes[Number(number)];
      const frame = /** @type {HeatFrame} */ (state.frame);
      const note = held.includes(Number(number)) ? say("desk.held") : lane ? `${placeText(frame, lane)} · ${resultText(lane.result)}` : "";
      this.#drawLine(line, { number, text: lane ? isolate(lane.name) : "", note, on: asked.includes(`lane:${number}`) });
    });
  }

  /**
   * @param {DeskState} state
   * @param {ShowFrame} show
   * @param {OutputData} output
   */
  #drawAutomatic({ ours, proposals, keys }, show, output) {
    const button = this.#part("automatic");
    setText(button, say("desk.with_key", { word: say(`desk.automatic_${output.automatic}`), key: keys.name("automatic") }));
    const elsewhere = output.automatic !== "off" && !ours;
    setText(this.#part("automatic-note"), elsewhere ? say("desk.automatic_elsewhere") : say("desk.automatic_note"));
    const delay = this.#input("delay");
    if (document.activeElement !== delay) delay.value = secondsText(output.delay_ms);
    const make = (/** @type {string} */ key) => {
      const line = stamp(this.#root, "proposal-template");
      part(line, "accept").onclick = () => this.#dispatch({ type: "accept", key });
      part(line, "drop").onclick = () => this.#dispatch({ type: "drop", key });
      return line;
    };
    keyedChildren(this.#part("proposals"), proposals.map(({ key }) => key), make, (line, key) => {
      const proposal = proposals.find((each) => each.key === key);
      const first = proposals[0].key === key;
      setText(part(line, "text"), proposal ? itemText(proposal.item, show) : "");
      setText(part(line, "note"), proposal?.why ?? "");
      setText(part(line, "accept"), first ? say("desk.with_key", { word: say("desk.take"), key: keys.name("proposal") }) : say("desk.take"));
      setText(part(line, "drop"), first ? say("desk.with_key", { word: say("desk.drop"), key: keys.name("dismiss") }) : say("desk.drop"));
    });
  }

  /** @param {DeskState} state */
  #drawKeys({ changing, keys }) {
    const make = (/** @type {string} */ id) => {
      const line = stamp(this.#root, "key-template");
      part(line, "change").onclick = () => this.#dispatch({ type: "changeKey", id });
      return line;
    };
    keyedChildren(this.#part("keys"), ACTIONS.map(({ id }) => id), make, (line, id) => {
      const label = ACTIONS.find((action) => action.id === id)?.label ?? id;
      setText(part(line, "text"), label);
      setText(part(line, "change"), changing === id ? say("desk.press_key") : keys.name(id));
      setAttr(part(line, "change"), "aria-label", changing === id ? say("desk.key_press", { label }) : say("desk.key_change", { label, key: keys.name(id) }));
    });
  }

  /** @param {() => void} picked */
  #line(picked) {
    const line = stamp(this.#root, "line-template");
    part(line, "pick").onclick = picked;
    return line;
  }

  /**
   * @param {HTMLElement} line
   * @param {{number: string | number, text: string, note?: string, on: boolean}} said
   */
  #drawLine(line, { number, text, note, on }) {
    setText(part(line, "number"), number);
    setText(part(line, "text"), text);
    setText(part(line, "note"), note ?? "");
    setAttr(part(line, "pick"), "aria-pressed", String(on));
  }
}

/**
 * The floor of an output, in words.
 *
 * @param {ShowFrame} show
 * @param {string} output
 */
function floorText(show, output) {
  return show.floors?.[show.outputs[output]?.floor ?? ""]?.name ?? say("desk.the_floor");
}

/**
 * Event and heat; the floor is said before them.
 *
 * @param {ShowFrame} show
 * @param {{id: string, name: string}} heat
 * @param {string} floor
 */
function titleText(show, heat, floor) {
  return (show.heats[heat.id]?.name ?? heat.name).replace(` · ${floor}`, "");
}

/** @param {OutputData} output */
function sinceText({ changed }) {
  if (!changed) return "";
  const when = changed.timecode ?? new Date(changed.unix_ms).toLocaleTimeString("en-GB");
  return changed.by === "automatic" ? say("desk.since_automatic", { time: when }) : say("desk.since_operator", { time: when });
}

/** @param {number} ms */
function secondsText(ms) {
  return String(Math.round(ms / 100) / 10);
}

/**
 * What the booth is told of the floor of the output that is worked.
 *
 * @param {DeskState} state
 */
function boothOf(state) {
  return state.booth?.heat === floorAt(state) ? state.booth.frame : undefined;
}
