/**
 * The graphics desk: `/desk/#key=…`, and `?output=ID` to begin with another output than the first. Choose, check, take,
 * clear. What it sends are facts of the show; what is on programme is told by the server, never by this page.
 *
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").OutputData} OutputData
 */

import { heatClockMs } from "../shared/clock.js";
import { Delayed, LONGEST_DELAY_MS } from "../shared/delay.js";
import { beTheOnlyWindow, deviceStorage } from "../shared/device.js";
import { part } from "../shared/dom.js";
import { randomHex } from "../shared/queue.js";
import { keyFrom, openWire } from "../shared/socket.js";
import { Automatic } from "./automatic.js";
import { itemText, pickSubject, refusal } from "./items.js";
import { Keys } from "./keys.js";
import { Digits, Hand } from "./lines.js";
import { Screen } from "./screen.js";
import { Sender } from "./sender.js";

const LOOK_MS = 100;
const MESSAGE_MS = 8000;
/** So long the server may take to answer what it was asked. */
const ANSWER_MS = 500;
const DELAY_STEP_MS = 100;
const MODES = /** @type {const} */ (["off", "propose", "take"]);

/** @typedef {import("./screen.js").DeskState} DeskState */

/** @type {DeskState} */
const state = {
  show: undefined,
  subjects: undefined,
  frame: undefined,
  output: new URLSearchParams(location.search).get("output") ?? "",
  link: { up: false, since: Date.now() },
  mode: "live",
  speed: 1,
  barred: "",
  message: { text: "", until: 0 },
  by: "lane",
  battle: false,
  heat: "",
  ours: false,
  proposals: [],
  changing: "",
};

/**
 * What is kept for each output: what is in hand, its rules, and the heat as that output shows it.
 *
 * @typedef {object} Side
 * @property {Hand} hand
 * @property {Automatic} rules
 * @property {Delayed<import("../shared/types.js").HeatFrame>} line
 * @property {import("../shared/types.js").HeatFrame} [shown]
 * @property {import("./automatic.js").Proposal[]} proposals
 * @property {{automatic?: "off" | "propose" | "take", delay_ms?: number, until: number}} asked what the server was asked
 *   for just now: the next press of a key counts from there, not from an answer that is on its way
 */

/** @type {Map<string, Side>} */
const sides = new Map();
const desk = { tab: tabName() };
const keys = new Keys(deviceStorage());
const digits = new Digits();
const sender = new Sender(`${desk.tab}-${randomHex(3)}`, (message) => wire.send(message));
const screen = new Screen(document.body, keys, {
  act,
  choose,
  prepare,
  prepareLine: (line) => withHand((hand, { rundown }) => hand.prepareLine(rundown, line)),
  pick,
  heat: (heat) => void (state.heat = heat),
  delay: setDelay,
  accept,
  drop: (key) => side().rules.drop(key),
  changeKey,
  usualKeys: () => keys.reset(),
});

const wire = openWire({
  role: "desk",
  key: keyFrom(location),
  sender: () => sender.begin(),
  watch: ["show", "subjects", "heat"].map((view) => ({ view, heat: "floor" })),
  onFrame: take,
  onLink(link) {
    state.link = link;
    if (!link.up) for (const words of sender.lose()) say(`${words} may not have arrived: the link was lost. Look at the programme.`);
    render();
  },
  onMessage: hear,
});

/**
 * @param {string} view
 * @param {any} frame
 * @param {string} _heat
 * @param {number} unixMs
 */
function take(view, frame, _heat, unixMs) {
  if (view === "show") state.show = frame;
  else if (view === "subjects") state.subjects = frame;
  else {
    state.frame = frame;
    for (const name of Object.keys(state.show?.outputs ?? {})) side(name).line.add("heat", unixMs, frame);
  }
  if (state.show && !state.show.outputs[state.output]) state.output = Object.keys(state.show.outputs)[0] ?? "";
  look();
  render();
}

/** @param {import("../shared/types.js").Notice} message */
function hear(message) {
  if (message.type === "welcome") Object.assign(state, { mode: message.mode, speed: message.speed });
  else if (message.type === "acknowledged") sender.take(message).forEach(say);
  else if (message.type === "gap") wire.restart(); // facts are counted anew on the next connection
  else if (message.code === "not_allowed") state.barred = "This page has no valid key for the desk: open the link that the server printed";
  else say(`The server could not read a message: ${message.message}`);
  render();
}

/** @param {string} text */
function say(text) {
  state.message = { text, until: Date.now() + MESSAGE_MS };
}

/** @param {string} [name] */
function side(name = state.output) {
  const known = sides.get(name) ?? { hand: new Hand(), rules: new Automatic(), line: new Delayed(), proposals: [], asked: { until: 0 } };
  sides.set(name, known);
  return known;
}

/** What the output is set to, or was asked to be just now. */
function settings() {
  const { asked } = side();
  const { automatic = "off", delay_ms = 0 } = output() ?? {};
  return { automatic, delay_ms, ...(Date.now() < asked.until ? asked : {}) };
}

/** @param {{automatic?: "off" | "propose" | "take", delay_ms?: number}} asked */
function ask(asked) {
  side().asked = { ...asked, until: Date.now() + ANSWER_MS };
}

function output() {
  return state.show?.outputs[state.output];
}

/** @param {(hand: Hand, output: OutputData) => void} change */
function withHand(change) {
  const now = output();
  if (now) change(side().hand, now);
  render();
}

/** @param {Item} item */
function prepare(item) {
  const params = state.heat ? { ...item.params, heat: state.heat } : item.params;
  withHand((hand) => hand.prepare({ ...item, params }));
}

/** @param {Item} fresh */
function choose(fresh) {
  const [first] = side().hand.item?.params.who?.split(",") ?? [];
  // Who was in hand stays in hand where one is asked for and nobody in particular is meant.
  const stays = first !== undefined && fresh.params.who === "leader";
  prepare(stays ? { ...fresh, params: { who: first.replace("battle", "place") } } : fresh);
}

/** @param {string} subject */
function pick(subject) {
  withHand((hand) => {
    const item = hand.item;
    const view = item && state.show?.views[item.view];
    if (!item || !view?.most) return say("What is prepared is about the whole heat: choose a view about somebody first");
    hand.prepare(pickSubject(item, view.most === 1 ? subject.replace("battle", "place") : subject, view));
  });
}

/**
 * Do what a key or a button stands for.
 *
 * @param {string} id of keys.js
 */
function act(id) {
  const deeds = /** @type {Record<string, () => void>} */ ({
    take: () => takeItem(side().hand.item),
    clear,
    next: () => withHand((hand, { rundown }) => hand.step(rundown, 1)),
    previous: () => withHand((hand, { rundown }) => hand.step(rundown, -1)),
    leader: () => pick("leader"),
    fastest: () => pick("fastest"),
    finisher: () => pick("finisher"),
    battle: toggleBattle,
    by: () => void (state.by = state.by === "lane" ? "place" : "lane"),
    output: nextOutput,
    automatic: stepAutomatic,
    proposal: () => state.proposals[0] && accept(state.proposals[0].key),
    dismiss: () => state.proposals[0] && side().rules.drop(state.proposals[0].key),
    later: () => setDelay(settings().delay_ms + DELAY_STEP_MS),
    sooner: () => setDelay(settings().delay_ms - DELAY_STEP_MS),
  });
  if (id.startsWith("digit")) typed(id.slice("digit".length));
  else deeds[id]?.();
  look();
  render();
}

/** The number keys pick battles for a place, beginning with the first, or no longer. */
function toggleBattle() {
  state.battle = !state.battle;
  if (state.battle) pick("battle:1");
}

/** @param {string} digit */
function typed(digit) {
  const lanes = [...Object.keys(state.frame?.lanes ?? {}).map(Number), ...(state.subjects?.held ?? [])];
  const isKnown = (/** @type {number} */ each) => (state.by === "lane" && !state.battle ? lanes.includes(each) : each <= lanes.length);
  const number = digits.press(digit, performance.now(), isKnown);
  if (number === undefined) return;
  pick(`${state.battle ? "battle" : state.by}:${number}`);
}

/** @param {Item | undefined} item */
function takeItem(item) {
  const { show } = state;
  if (!item || !show) return say("Nothing is prepared");
  const reason = refusal(item, show, state.subjects);
  if (reason !== undefined) return say(`Not taken: ${reason}`);
  const { view, params } = item;
  if (send({ fact: "view_taken", view, params, by: "operator" }, `Take ${itemText(item, show)}`)) {
    if (item === side().hand.item) side().hand.taken(output()?.rundown ?? []);
  }
}

function clear() {
  send({ fact: "view_cleared", by: "operator" }, "Clear");
}

/** @param {string} key */
function accept(key) {
  const proposal = side().proposals.find((each) => each.key === key);
  if (!proposal) return;
  takeItem(proposal.item);
  side().rules.drop(key);
  look();
  render();
}

/** @param {number} ms */
function setDelay(ms) {
  const delay_ms = Math.min(Math.max(Math.round(ms), 0), LONGEST_DELAY_MS);
  if (!output() || delay_ms === settings().delay_ms) return;
  if (send({ fact: "delay_set", delay_ms }, `Delay ${delay_ms / 1000} s`)) ask({ delay_ms });
}

function stepAutomatic() {
  const now = settings().automatic;
  // Another desk's automatic mode is taken over as it is, not switched.
  const ours = state.ours || Date.now() < side().asked.until;
  const automatic = ours || now === "off" ? MODES[(MODES.indexOf(now) + 1) % MODES.length] : now;
  if (send({ fact: "automatic_set", automatic }, `Automatic ${automatic}`)) ask({ automatic });
}

function nextOutput() {
  const names = Object.keys(state.show?.outputs ?? {});
  state.output = names[(names.indexOf(state.output) + 1) % names.length] ?? state.output;
}

/**
 * @param {Record<string, unknown> & {fact: string}} fields
 * @param {string} words
 * @param {string} [name] of the output
 */
function send(fields, words, name = state.output) {
  const heat = state.frame?.heat.id ?? Object.keys(state.show?.heats ?? {})[0] ?? "";
  const unix_ms = Math.round(wire.clock.nowMs());
  const draft = { id: `desk.${randomHex(8)}`, heat, at_ms: Math.round(clockMs() ?? 0), output: name, unix_ms, ...fields };
  const sent = sender.send(draft, words);
  if (!sent) say(`${words}: not sent, there is no link to the server`);
  return sent;
}

function clockMs() {
  return state.frame && heatClockMs(state.frame.clock, state.frame.speed ?? state.speed, wire.clock.nowMs());
}

/** Let the rules of every output look at the heat as that output shows it. */
function look() {
  const known = wire.clock.errorMs() !== undefined;
  for (const [name, each] of Object.entries(state.show?.outputs ?? {})) {
    const own = side(name);
    own.line.delayMs = each.delay_ms;
    const due = own.line.advance(performance.now(), known ? wire.clock.nowMs() : undefined);
    for (const { value } of due) own.shown = value;
    const ours = each.automatic !== "off" && isOurs(each);
    own.proposals = ours && own.shown && state.link.up ? follow(name, each, own, own.shown) : [];
  }
  state.ours = isOurs(output());
  state.proposals = side().proposals;
}

/**
 * @param {string} name
 * @param {OutputData} output
 * @param {Side} own
 * @param {import("../shared/types.js").HeatFrame} frame as the output shows it
 */
function follow(name, output, own, frame) {
  const nowMs = wire.clock.nowMs();
  const shownMs = heatClockMs(frame.clock, frame.speed ?? state.speed, own.line.shownMs ?? nowMs);
  const { proposals, act: deed } = own.rules.step({ frame, clockMs: shownMs, output, nowMs });
  if (deed && "clear" in deed) send({ fact: "view_cleared", by: "automatic" }, "Automatic clear", name);
  else if (deed) send({ fact: "view_taken", by: "automatic", view: deed.take.view, params: deed.take.params }, "Automatic take", name);
  return proposals;
}

/** @param {OutputData | undefined} each */
function isOurs(each) {
  return each?.automatic_by?.startsWith(`desk-${desk.tab}-`) ?? false;
}

/**
 * The name of this window: it survives a reload, so that the automatic mode goes on.
 */
function tabName() {
  const [storage, key] = [window.sessionStorage, "tallywire.desk.name"];
  const name = storage.getItem(key) ?? randomHex(3);
  storage.setItem(key, name);
  beTheOnlyWindow(`desk.${name}`, () => {
    desk.tab = randomHex(3); // a copy of another window is a desk of its own
    storage.setItem(key, desk.tab);
    location.reload();
  });
  return name;
}

/** @param {string} id */
function changeKey(id) {
  state.changing = state.changing === id ? "" : id;
  render();
}

function render() {
  screen.draw(state, side().hand, clockMs());
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (state.changing) return changeTo(event);
  const { target } = event;
  if (target instanceof HTMLInputElement || target instanceof HTMLSelectElement) return;
  // Who works with Tab presses a button with the space bar: then it is the button's.
  if (target instanceof HTMLButtonElement && event.key === " ") return;
  const id = keys.actionOf(event.key);
  if (id === undefined) return;
  event.preventDefault();
  if (!event.repeat || ["next", "previous", "later", "sooner"].includes(id)) act(id);
});

/** @param {KeyboardEvent} event */
function changeTo(event) {
  event.preventDefault();
  const wrong = event.key === "Escape" ? undefined : keys.set(state.changing, event.key);
  if (wrong) say(wrong);
  else state.changing = "";
  render();
}

// After a click the keys are the desk's again.
addEventListener("click", (event) => {
  const { activeElement } = document;
  if (event.detail > 0 && activeElement instanceof HTMLButtonElement) activeElement.blur();
});
addEventListener("message", (event) => {
  const preview = /** @type {HTMLIFrameElement} */ (part(document, "preview-frame"));
  if (event.origin === location.origin && event.source === preview.contentWindow) screen.previewIsReady();
});
setInterval(() => {
  look();
  render();
}, LOOK_MS);
