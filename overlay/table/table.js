/** The scoring table: `/table/#key=…`, `?heat=ID` for one heat instead of the one on the floor, `?floor=ID` of several floors. */

import { refusalText } from "../shared/refusal.js";
import { barredBecause } from "../shared/barred.js";
import { heatClockMs } from "../shared/clock.js";
import { beTheOnlyWindow, deviceStorage, storeFault } from "../shared/device.js";
import { keyedChildren, part, setText } from "../shared/dom.js";
import { floorIn, heatAsked, isFloor } from "../shared/floor.js";
import { clockText } from "../shared/format.js";
import { keyFrom } from "../shared/key.js";
import { Outbox, PATIENCE_MS } from "../shared/outbox.js";
import { arrived, loadAgain, renewFor, stayWords } from "../shared/program.js";
import { randomHex } from "../shared/queue.js";
import { listText, say } from "../shared/say.js";
import { openWire, SENDERS_VIEW } from "../shared/socket.js";
import { draftOf, HEAT_ACTIONS, LANE_ACTIONS, laneActions, openActions, whyNot } from "./actions.js";
import { ask } from "./ask.js";
import { Keyboard } from "./keyboard.js";
import { wordsFor } from "./log.js";
import { padLines } from "./pads.js";
import { touchesOf } from "./recall.js";
import { Screen } from "./screen.js";
import { Signing } from "./signing.js";

const TICK_MS = 200;
const MESSAGE_MS = 10_000;
/** Two digits typed within this time are one lane. */
const DIGITS_MS = 700;

/** The head judge's link opens this page too, for what a head judge decides. */
const role = new URLSearchParams(location.search).get("role") === "head" ? "head" : "table";
const storage = deviceStorage();
/** Under this name the browser keeps who signed last. */
const BY_KEY = `tallywire.${role}.by`;
/** @type {Outbox<import("./log.js").Done>} */
const outbox = Outbox.open({
  storage,
  name: role,
  makeSender: () => `${role}-${randomHex(3)}`,
  nowMs: Date.now(),
});
const { history } = outbox;
const fault = storeFault(storage);
const FAULT_WORDS = fault && say("table.lost_if_closed", { fault });
if (fault) outbox.queue.notKept();

const state = {
  frame: /** @type {import("../shared/types.js").HeatFrame | undefined} */ (undefined),
  heat: heatAsked(new URLSearchParams(location.search)),
  link: { up: false, since: Date.now() },
  mode: "live",
  speed: 1,
  barred: "",
  may: /** @type {string[] | undefined} */ (undefined),
  message: { text: FAULT_WORDS, until: Infinity },
  digits: { text: "", at: 0 },
};

const root = document.body;
const screen = new Screen(root, { act: actOnLane, more: openMenu, takeBack });
const heats = /** @type {HTMLSelectElement} */ (part(root, "heats"));
const keyboard = new Keyboard(root, {
  known: () => ({ frame: ready() && state.may?.includes("rep_counted") ? state.frame : undefined, clockMs: Math.round(clockMs() ?? 0), errorMs: wire.clock.errorMs() }),
  add,
});
const signing = new Signing(root, { frame: () => state.frame, change: openMenu, check: checkSheets, sign: (by) => actAtOnce("sign", by) });
const menu = /** @type {HTMLDialogElement} */ (part(root, "menu"));

const wire = openWire({
  role,
  key: keyFrom(location),
  sender: () => outbox.queue.sender,
  watch: [{ view: SENDERS_VIEW, heat: state.heat }],
  onFrame(_view, frame, heat) {
    if (heat !== state.heat) return;
    state.frame = frame;
    render();
  },
  onLink(link) {
    state.link = link;
    render();
  },
  onMessage(message) {
    take(message);
    render();
  },
});

/** @param {import("../shared/types.js").Notice} message */
function take(message) {
  if (message.type === "welcome") Object.assign(state, { mode: message.mode, speed: message.speed, may: message.facts });
  if (message.type === "welcome") renewFor(message.pages, () => outbox.count > 0 && !outbox.queue.durable);
  // A server whose disk is still full says so again after the welcome.
  if (message.type === "welcome" && state.message.until === Infinity) state.message.text = FAULT_WORDS;
  const heard = outbox.hear(message, Date.now());
  if (heard) {
    for (const why of heard.refused) announce(say("table.not_taken", { why }));
    if (heard.restart) wire.restart();
    if (heard.send) flush();
  } else if (message.type === "storage") {
    announce(say("crew.server_says", { message: refusalText(message) }), message.state === "held" ? Infinity : MESSAGE_MS);
  } else if (message.type === "error") fail(message);
}

/** @param {import("../shared/types.js").WireError} error */
function fail(error) {
  if (error.code === "ahead_of_clock") return announce(refusalText(error));
  state.barred = barredBecause(error, say("table.the_table")) ?? state.barred;
  if (!state.barred) announce(say("crew.not_read", { message: refusalText(error) }));
}

function flush() {
  if (state.link.up && !state.barred) outbox.queue.drain((facts) => wire.send({ type: "facts", facts }));
}

/** The heat clock now; undefined before the start. */
function clockMs() {
  return state.frame && heatClockMs(state.frame.clock, state.frame.speed ?? state.speed, wire.clock.nowMs());
}

/** The table may act when it sees a heat and knows the server's clock. */
function ready() {
  return !state.barred && state.frame !== undefined && wire.clock.errorMs() !== undefined;
}

/**
 * @param {number} [number]
 * @returns {import("./actions.js").Context | undefined}
 */
function context(number) {
  const { frame } = state;
  if (!frame) return undefined;
  const lane = number === undefined ? undefined : frame.lanes[number];
  return { frame, clockMs: clockMs() ?? 0, unixMs: wire.clock.nowMs(), lane, may: state.may, by: storage.getItem(BY_KEY) ?? "" };
}

/**
 * Ask, and make the fact when the answer is yes, with the time of the answer.
 *
 * @param {import("./actions.js").Action} action
 * @param {number} [lane]
 */
function act(action, lane) {
  const asked = context(lane);
  if (!asked || !ready()) return;
  ask(root, action, asked, (values) => {
    const now = context(lane);
    if (values.by) remember(String(values.by));
    if (now?.frame.heat.id === asked.frame.heat.id) keep(draftOf(action, values, now, randomHex(16)));
    else announce(say("table.another_heat"));
  });
}

/**
 * @param {number} lane
 * @param {string} name
 */
function actOnLane(lane, name) {
  if (state.frame) act(laneActions(state.frame)[name], lane);
}

/** @param {string} by */
function remember(by) {
  try {
    storage.setItem(BY_KEY, by);
  } catch {
    // The queue says when the storage is full; a name typed again is bearable.
  }
}

/**
 * @param {number[]} lanes
 * @param {string} by
 */
function checkSheets(lanes, by) {
  remember(by);
  for (const lane of lanes) {
    const now = context(lane);
    if (now) keep(draftOf(LANE_ACTIONS.sheet, { by }, now, randomHex(16)));
  }
}

/**
 * Do what was asked in a dialog of its own.
 *
 * @param {keyof typeof HEAT_ACTIONS} name
 * @param {string} by
 */
function actAtOnce(name, by) {
  const now = context();
  if (now) keep(draftOf(HEAT_ACTIONS[name], { by }, now, randomHex(16)));
}

/** @param {import("../shared/types.js").FactDraft} draft */
function keep(draft) {
  add(draft);
  history.add({ ...draft, words: wordsFor(draft) });
  announce(say("table.did", { what: wordsFor(draft) }));
}

/** @param {import("../shared/types.js").FactDraft} draft */
function add(draft) {
  outbox.begin(Date.now());
  outbox.queue.add(draft);
  flush();
}

/** A false start: what names the start never counts; what names none is struck touch by touch. */
function recall() {
  const asked = context();
  if (!asked || !ready()) return;
  ask(root, HEAT_ACTIONS.recall, asked, async ({ reason }) => {
    const { id } = asked.frame.heat;
    const recalled = draftOf(HEAT_ACTIONS.recall, { reason }, asked, randomHex(16));
    keep(recalled);
    try {
      for (const { lane, fact } of await touchesOf(id, keyFrom(location) ?? "")) {
        add({ fact: "fact_voided", id: randomHex(16), heat: id, lane, at_ms: recalled.at_ms, voids: fact, reason: String(reason) });
      }
      announce(say("table.called_back"));
    } catch {
      announce(say("table.called_back_but"));
    }
  });
}

/** @param {string} id */
function takeBack(id) {
  const entry = history.find(id);
  const asked = context();
  if (!entry || !asked || !ready()) return;
  const question = {
    fact: "fact_voided",
    label: say("table.take_back"),
    yes: say("table.take_back_yes"),
    title: () => say("table.take_back_title", { what: entry.words }),
    note: say("table.take_back_note"),
    fields: [{ name: "reason", kind: /** @type {const} */ ("text"), label: say("table.reason"), offers: [say("table.reason_mistake")] }],
  };
  ask(root, question, asked, ({ reason }) => {
    const { heat, lane } = entry;
    const about = { heat, at_ms: Math.max(entry.at_ms, clockMs() ?? 0), ...(lane === undefined ? {} : { lane }) };
    add({ fact: "fact_voided", id: randomHex(16), ...about, voids: id, reason: String(reason) });
    history.markVoided(id);
    announce(say("table.taken_back", { what: entry.words }));
  });
}

/** @param {number} lane */
function openMenu(lane) {
  const asked = context(lane);
  if (!asked?.lane || !ready()) return;
  setText(part(menu, "menu-title"), say("table.menu_of", { lane, name: asked.lane.name }));
  const told = [...padLines(asked.frame.pads?.[lane], asked.unixMs), ...(asked.lane.remark_list ?? [])];
  keyedChildren(part(menu, "menu-remarks"), told, () => document.createElement("li"), setText);
  const buttons = openActions(laneActions(asked.frame), asked).map(([id, { label }]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.action = id;
    button.textContent = label;
    button.addEventListener("click", () => {
      menu.close();
      actOnLane(lane, id);
    });
    return button;
  });
  part(menu, "menu-keys").replaceChildren(...buttons);
  menu.showModal();
}

/** @param {string} heat */
function choose(heat) {
  wire.unwatch(SENDERS_VIEW, state.heat);
  state.heat = heat;
  state.frame = undefined;
  const address = new URL(location.href);
  for (const name of ["heat", "floor"]) address.searchParams.delete(name);
  if (!isFloor(heat)) address.searchParams.set("heat", heat);
  else if (floorIn(heat)) address.searchParams.set("floor", floorIn(heat));
  window.history.replaceState(null, "", address); // a reload stays with the heat; the key stays in the fragment
  wire.watch(SENDERS_VIEW, heat);
  render();
}

/** @param {string} text */
function announce(text, ms = MESSAGE_MS) {
  state.message = { text, until: Date.now() + ms };
  render();
}

/** What the table knows of its link, and whether everything it did is kept. */
function linkText() {
  const { link, barred } = state;
  const { count } = outbox;
  const late = count > 0 && (!link.up || outbox.waitedMs(Date.now()) >= PATIENCE_MS);
  const waits = late ? ` · ${say("crew.waiting", { count })}` : "";
  const stay = stayWords() && ` · ${stayWords()}`;
  if (barred) return { text: barred, good: false };
  if (!link.up) return { text: `${say("table.no_link", { time: clockText(Date.now() - link.since) })}${waits}${stay}`, good: false };
  return { text: `${say("shared.connected")}${waits}`, good: !late };
}

/** @param {import("../shared/types.js").HeatFrame | undefined} frame */
function closeText(frame) {
  const [first] = frame?.too_close ?? [];
  if (!first) return "";
  const { lanes, apart_ms, within_ms } = first;
  return say("table.too_close", { lanes: listText(lanes.map(String)), apart: apart_ms, within: within_ms });
}

/**
 * Why something cannot be done to the heat now.
 *
 * @param {import("./actions.js").Action} action
 * @returns {string | undefined}
 */
function closedBecause(action) {
  const now = context();
  if (state.barred) return state.barred;
  return now && ready() ? whyNot(action, now) : say("table.waits");
}

function render() {
  screen.show({
    frame: state.frame,
    clockMs: clockMs(),
    unixMs: wire.clock.nowMs(),
    heat: state.heat,
    key: keyFrom(location) ?? "",
    mode: state.mode,
    ready: ready(),
    message: state.message.until > Date.now() ? state.message.text : closeText(state.frame),
    barred: state.barred,
    link: linkText(),
    done: state.frame ? history.of(state.frame.heat.id) : [],
    closed: Object.fromEntries(Object.entries(HEAT_ACTIONS).map(([name, action]) => [name, closedBecause(action)])),
  });
  signing.show();
  keyboard.show();
}

/** @param {KeyboardEvent} event */
function onKey(event) {
  const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLSelectElement;
  if (typing || event.ctrlKey || event.metaKey || event.altKey || !/^\d$/.test(event.key)) return;
  const now = Date.now();
  const before = now - state.digits.at < DIGITS_MS ? state.digits.text : "";
  const joined = state.frame?.lanes[before + event.key] ? before + event.key : event.key;
  state.digits = { text: joined, at: now };
  screen.focus(joined);
}

for (const name of /** @type {const} */ (["call", "start", "recall", "end", "sign"])) {
  part(root, name).addEventListener("click", () => {
    const why = closedBecause(HEAT_ACTIONS[name]);
    if (why) announce(say("table.label_why", { label: HEAT_ACTIONS[name].label, why }));
    else if (name === "sign") signing.open(storage.getItem(BY_KEY) ?? "");
    else if (name === "recall") recall();
    else act(HEAT_ACTIONS[name]);
  });
}
part(menu, "menu-no").addEventListener("click", () => menu.close());
heats.addEventListener("change", () => choose(heats.value));
document.addEventListener("keydown", onKey);
beTheOnlyWindow(role, () => {
  state.barred = say("table.other_window");
  wire.close();
  render();
}, loadAgain);
setInterval(render, TICK_MS);
render();
arrived();
