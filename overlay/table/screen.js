/** Writes what the table shows to the page, only what changed. */

import { formatOf } from "../formats/registry.js";
import { keyedChildren, part, setAttr, setText, setVar, stamp } from "../shared/dom.js";
import { dayText, heatText, onFloor } from "../shared/day.js";
import { FLOOR, floorName } from "../shared/floor.js";
import { fitName } from "../shared/fit.js";
import { clockText, countdownText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { laneActions } from "./actions.js";
import { laneRow, resultWords } from "./rows.js";

/**
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("./log.js").Done} Done
 *
 * @typedef {object} Shown
 * @property {HeatFrame | undefined} frame
 * @property {number | undefined} clockMs
 * @property {number} unixMs the server's wall time
 * @property {string} heat as chosen: an id, or a floor's
 * @property {string} key of the link, for the page of the heat's story
 * @property {string} mode
 * @property {boolean} ready the table may act
 * @property {string} message
 * @property {string} barred why this table may do nothing; empty: it may
 * @property {{text: string, good: boolean}} link
 * @property {Done[]} done oldest first
 * @property {Record<string, string | undefined>} closed why each thing cannot be done to the heat now; undefined: it can
 *
 * @typedef {object} Wishes what the people at the table may press
 * @property {(lane: number, action: string) => void} act
 * @property {(lane: number) => void} more
 * @property {(id: string) => void} takeBack
 */

/** Up to so many lanes a row has two lines on a laptop. */
const MOST_TALL = 10;

const STATES = { waiting: say("table.heat_waiting"), running: say("table.heat_running"), over: say("table.heat_over") };

export class Screen {
  #root;
  #wishes;

  /**
   * @param {ParentNode} root
   * @param {Wishes} wishes
   */
  constructor(root, wishes) {
    this.#root = root;
    this.#wishes = wishes;
  }

  /** @param {Shown} shown */
  show(shown) {
    const { frame, message, link } = shown;
    setText(this.#part("message"), message);
    setText(this.#part("link"), link.text);
    setAttr(this.#part("link"), "data-down", !link.good);
    setAttr(this.#part("rehearsal"), "hidden", (frame?.mode ?? shown.mode) !== "rehearsal");
    setAttr(this.#part("empty"), "hidden", Boolean(frame));
    if (shown.barred) setText(this.#part("empty"), shown.barred);
    this.#showKeys(shown);
    if (!frame) return;
    this.#showHead(frame, shown);
    this.#showHeats(frame, shown.heat);
    this.#showRows(frame, shown);
    this.#showLog(shown.done);
    setAttr(this.#part("audit"), "href", `../audit/?heat=${encodeURIComponent(frame.heat.id)}#key=${shown.key}`);
    setText(this.#part("result"), [formatOf(frame.event).remark, resultWords(frame.result)].filter(Boolean).join(". "));
  }

  /**
   * Go to a lane's row.
   *
   * @param {string} lane
   */
  focus(lane) {
    const row = this.#part("rows").querySelector(`[data-lane="${lane}"] button`);
    if (row instanceof HTMLElement) row.focus();
  }

  /** @param {string} name */
  #part(name) {
    return part(this.#root, name);
  }

  /** @param {Shown} shown */
  #showKeys({ closed }) {
    for (const [name, why] of Object.entries(closed)) {
      setAttr(this.#part(name), "aria-disabled", why ? "true" : undefined);
      setAttr(this.#part(name), "title", why);
    }
  }

  /**
   * @param {HeatFrame} frame
   * @param {Shown} shown
   */
  #showHead({ event, heat, heats, clock }, { clockMs, unixMs }) {
    const aheadMs = (clock.zero_unix_ms ?? 0) - unixMs;
    setText(this.#part("event"), event.name);
    setText(this.#part("state"), STATES[heat.status]);
    setText(this.#part("day"), dayText(onFloor(heats ?? [], heat.floor?.id), unixMs, 2));
    setText(this.#part("clock"), aheadMs > 0 ? countdownText(aheadMs) : clockMs === undefined ? "–:––" : clockText(clockMs));
    setText(this.#part("cap"), ` ${say("shared.of_time", { time: clockText(clock.cap_ms) })}`);
  }

  /**
   * @param {HeatFrame} frame
   * @param {string} chosen
   */
  #showHeats({ heat, heats = [], floors }, chosen) {
    const rows = /** @type {import("../shared/day.js").DayHeat[]} */ (heats.length ? heats : [heat]);
    const names = new Map([...(floors ? onFloors(floors, heats) : onTheFloor(heat, heats, chosen)), ...rows.map(named)]);
    const select = /** @type {HTMLSelectElement} */ (this.#part("heats"));
    const value = floors && chosen === FLOOR ? floorName(Object.keys(floors)[0]) : chosen;
    keyedChildren(select, [...names.keys()], makeOption, (option, id) => setText(option, names.get(id) ?? id));
    if (select.value !== value) select.value = value;
  }

  /**
   * @param {HeatFrame} frame
   * @param {Shown} shown
   */
  #showRows(frame, { clockMs, ready }) {
    const lanes = Object.keys(frame.lanes).sort((a, b) => Number(a) - Number(b));
    setVar(this.#part("desk"), "--rows", String(lanes.length));
    setAttr(this.#part("desk"), "data-many", lanes.length > MOST_TALL);
    keyedChildren(this.#part("rows"), lanes, (lane) => this.#makeRow(lane), (element, lane) => {
      const row = laneRow(frame, frame.lanes[lane], clockMs);
      const { stalled, status, name: whole, station, ...texts } = row;
      for (const name of ["name", "station"]) setAttr(part(element, name), "data-two", lanes.length <= MOST_TALL);
      fitName(part(element, "name"), whole, frame.lanes[lane].short);
      fitName(part(element, "station"), station, station);
      setAttr(part(element, "name"), "title", whole);
      for (const [name, text] of Object.entries(texts)) setText(part(element, name), text);
      setAttr(part(element, "since"), "data-stalled", stalled);
      setAttr(element, "data-status", status);
      setAttr(element, "data-held", frame.lanes[lane].held === true);
      this.#showAtHand(element, lane, frame);
      for (const button of element.querySelectorAll("button")) setAttr(button, "disabled", !ready);
    });
  }

  /**
   * @param {HTMLElement} row
   * @param {string} lane
   * @param {HeatFrame} frame
   */
  #showAtHand(row, lane, frame) {
    const names = formatOf(frame.event).table.atHand;
    const actions = laneActions(frame);
    row.querySelectorAll("[data-action]").forEach((button, index) => {
      const { label } = actions[names[index]];
      setAttr(button, "data-action", names[index]);
      setText(button, label);
      setAttr(button, "aria-label", say("table.action_lane", { action: label, lane }));
    });
  }

  /** @param {string} lane */
  #makeRow(lane) {
    const row = stamp(this.#root, "row-template");
    row.dataset.lane = lane;
    for (const button of row.querySelectorAll("[data-action]")) {
      const wish = () => this.#wishes.act(Number(lane), button.getAttribute("data-action") ?? "");
      button.addEventListener("click", wish);
    }
    const more = part(row, "more");
    more.setAttribute("aria-label", say("table.more_lane", { lane }));
    more.addEventListener("click", () => this.#wishes.more(Number(lane)));
    return row;
  }

  /** @param {Done[]} done */
  #showLog(done) {
    const byId = new Map(done.map((entry) => [entry.id, entry]));
    const newestFirst = [...byId.keys()].reverse();
    keyedChildren(this.#part("log"), newestFirst, (id) => this.#makeLine(id), (line, id) => {
      const entry = /** @type {Done} */ (byId.get(id));
      setText(part(line, "log-text"), `${clockText(entry.at_ms)} ${entry.words}`);
    });
  }

  /** @param {string} id */
  #makeLine(id) {
    const line = stamp(this.#root, "log-template");
    part(line, "take-back").addEventListener("click", () => this.#wishes.takeBack(id));
    return line;
  }
}


/**
 * What follows the one floor.
 *
 * @param {HeatFrame["heat"]} heat
 * @param {import("../shared/day.js").DayHeat[]} heats
 * @param {string} chosen
 * @returns {[string, string][]}
 */
function onTheFloor(heat, heats, chosen) {
  const title = heats.find(({ id }) => id === heat.id)?.title ?? heat.name;
  return [[FLOOR, chosen === FLOOR ? say("table.on_the_floor_is", { heat: title }) : say("table.on_the_floor")]];
}

/**
 * What follows each of several floors.
 *
 * @param {NonNullable<HeatFrame["floors"]>} floors
 * @param {import("../shared/day.js").DayHeat[]} heats
 * @returns {[string, string][]}
 */
function onFloors(floors, heats) {
  const title = (/** @type {string} */ heat) => heats.find(({ id }) => id === heat)?.title ?? heat;
  // The title ends with the floor, which is said already.
  return Object.entries(floors).map(([id, { name, heat }]) => [floorName(id), say("table.on_floor", { floor: name, heat: title(heat).replace(` · ${name}`, "") })]);
}

/**
 * @param {import("../shared/day.js").DayHeat} heat
 * @returns {[string, string]}
 */
function named(heat) {
  const text = heatText(heat);
  if (heat.status === "running") return [heat.id, say("table.option_running", { heat: text })];
  return [heat.id, heat.status === "over" ? say("table.option_over", { heat: text }) : text];
}

/** @param {string} id */
function makeOption(id) {
  const option = document.createElement("option");
  option.value = id;
  return option;
}
