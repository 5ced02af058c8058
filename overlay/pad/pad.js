/**
 * The lane pad: a judge's phone. `/pad/?lane=4#key=…`, `&floor=ID` of several floors, and `&heat=ID` to stay with one
 * heat. This page wires the socket,
 * the fingers and the screen to the reducer and carries out its effects; what happens is decided in reducer.js.
 */

import { beTheOnlyWindow, buzz, deviceStorage, stayAwake, storeFault, watchBattery, whenIdle } from "../shared/device.js";
import { part } from "../shared/dom.js";
import { heatAsked } from "../shared/floor.js";
import { keyFrom } from "../shared/key.js";
import { arrived, renewFor } from "../shared/program.js";
import { randomHex } from "../shared/queue.js";
import { say } from "../shared/say.js";
import { openWire, SENDERS_VIEW } from "../shared/socket.js";
import { Fingers } from "./fingers.js";
import { reduce } from "./reducer.js";
import { Screen } from "./screen.js";
import { openSheets } from "./sheets.js";
import { clockMs, lastSeen, nameOf, openPad, shownAt, viewAt } from "./state.js";

const TICK_MS = 200;
/** What the table is told of this phone: soon after the link is up, when the clock is known, and then so often. */
const REPORT_AFTER_MS = 1000;
const REPORT_EVERY_MS = 5000;
/** Rounded up to this, so that the table is not told of every breath of the network. */
const ERROR_STEP_MS = 10;
const AHEAD_STEP_MS = 100;
/** A page is not there while it is loaded again: the judge must have paused for so long. */
const QUIET_MS = 3000;

const query = new URLSearchParams(location.search);
const lane = Number(query.get("lane"));
const role = query.get("role") === "backup" ? "backup" : "lane";
const floor = query.get("floor") ?? "";
const heat = heatAsked(query);
const storage = deviceStorage();
const awake = stayAwake();
const battery = watchBattery();
const fingers = new Fingers({ surface: () => viewAt(state, now()).surface, touch, dispatch });
const screen = new Screen(document.body, { member: (member, key) => fingers.listenToMember(member, key) });
/** @type {(() => void)[]} touches that wait for the server's clock */
const held = [];
let touchedAtMs = -Infinity;
/** What the page would open with next time, not written yet. @type {import("./reducer.js").Remembered | undefined} */
let unwritten;
const start = { nowMs: Date.now(), serverMs: Date.now(), tickMs: 0, ...lots() };
let state = openPad({ lane, role, floor, storage, heat, fault: storeFault(storage) }, start);

let wire = openLink();

function openLink() {
  return openWire({
    role,
    key: keyFrom(location),
    lane,
    floor: floor || undefined,
    apartMs: lastSeen(storage, state.name, heat).apartMs,
    sender: () => state.outbox.queue.sender,
    watch: [{ view: SENDERS_VIEW, heat }],
    onFrame: (_view, frame) => dispatch({ type: "frame", frame }),
    onLink: (link) => {
      dispatch({ type: "link", link });
      if (link.up) setTimeout(report, REPORT_AFTER_MS);
    },
    onMessage: (message) => {
      if (message.type === "welcome") renewFor(message.pages, mayLose);
      dispatch({ type: "message", message });
    },
    onClock: () => held.splice(0).forEach((act) => act()),
  });
}

/** The window that counted on this lane is gone: go on from what it kept. */
function takeOver() {
  state = { ...openPad({ lane, role, floor, storage, heat, fault: state.fault }, { ...now(), ...lots() }), kept: state.kept };
  wire = openLink();
  render();
}

/** Tell the table how this phone is. */
function report() {
  const [error, level] = [wire.clock.errorMs(), battery()];
  const clock = error !== undefined && {
    error_ms: Math.ceil(error / ERROR_STEP_MS) * ERROR_STEP_MS,
    ahead_ms: Math.round((Date.now() - wire.clock.nowMs()) / AHEAD_STEP_MS) * AHEAD_STEP_MS,
  };
  wire.send({ type: "status", waiting: state.outbox.count, held: held.length, ...(level !== undefined && { battery: level }), ...clock });
}

/** A reload now would lose touches, or one that comes while the page is not there. */
function mayLose() {
  return performance.now() - touchedAtMs < QUIET_MS || held.length > 0 || (state.outbox.count > 0 && !state.outbox.queue.durable);
}

/**
 * @param {number} [tickMs] when, on the page's own clock
 * @param {string} [start] the start by whose clock it is told
 * @returns {import("./state.js").Time}
 */
function now(tickMs = performance.now(), start = state.book.frame?.start_id) {
  const error = wire.clock.errorMs();
  return {
    nowMs: Date.now(),
    serverMs: wire.clock.at(tickMs),
    tickMs,
    ...(error !== undefined && { uncertainMs: Math.ceil(error) }),
    ...(start !== undefined && { start }),
  };
}

/**
 * The names that an event's facts may need, of which nothing is drawn only to be looked at.
 *
 * @returns {import("./state.js").Lots}
 */
function lots() {
  return { id: randomHex(16), sender: `${nameOf(lane, role, floor)}-${randomHex(3)}` };
}

/**
 * @param {import("./reducer.js").PadEvent} event
 * @param {number} [tickMs] when it was
 * @param {string} [start] by whose clock
 */
function dispatch(event, tickMs, start) {
  const { state: after, effects } = reduce(state, event, { ...now(tickMs, start), ...lots() });
  state = after;
  effects.forEach(carryOut);
  render();
}

/**
 * Make an event of a touch as soon as the server's clock is known: it is held until then, and never stamped by a guess.
 *
 * @param {number} tickMs when it was, on the page's own clock
 * @param {(atMs: number, serverMs: number) => import("./reducer.js").PadEvent} make
 */
function touch(tickMs, make) {
  touchedAtMs = tickMs;
  const start = state.book.frame?.start_id;
  const act = () => dispatch(make(heatMs(tickMs), wire.clock.at(tickMs)), tickMs, start);
  if (wire.clock.errorMs() !== undefined) return act();
  held.push(act);
  dispatch({ type: "held" });
}

/** @param {import("./reducer.js").PadEffect} effect */
function carryOut(effect) {
  if (effect.do === "store") store(effect);
  else if (effect.do === "remember") remember(effect);
  else if (effect.do === "send") wire.send({ type: "facts", facts: effect.facts });
  else if (effect.do === "buzz") buzz(effect.kind);
  else if (effect.do === "ring") screen.ring(effect.point);
  else if (effect.do === "restart") wire.restart();
  else wire.close();
}

/** @param {{key: string, text: string | null}} write */
function store({ key, text }) {
  if (unwritten?.then?.some((waiting) => waiting.key === key)) writeSeen(); // in the order in which they were made
  try {
    if (text === null) storage.removeItem(key);
    else storage.setItem(key, text);
  } catch {
    dispatch({ type: "notKept" }); // full, or not allowed: counting goes on in memory and the page says so
  }
}

/**
 * Written when nothing else is to be done, the newest alone, and before the page goes: a whole heat with every answer
 * and every frame would keep the next answer waiting.
 *
 * @param {import("./reducer.js").Remembered} effect
 */
function remember(effect) {
  if (!unwritten) whenIdle(writeSeen);
  unwritten = { ...effect, then: [...(unwritten?.then ?? []), ...(effect.then ?? [])] };
}

function writeSeen() {
  const effect = unwritten;
  unwritten = undefined;
  if (!effect) return;
  store({ key: effect.key, text: JSON.stringify(effect.seen) });
  effect.then?.forEach(store);
}

fingers.listen(screen);

/**
 * When a touch was: the heat clock, 0 before the start.
 *
 * @param {number} tickMs
 */
function heatMs(tickMs) {
  return clockMs(state, now(tickMs)) ?? 0;
}

openSheets(document.body, {
  facts() {
    const { book, outbox } = state;
    const error = wire.clock.errorMs();
    return {
      lane: [String(lane), book.frame?.heat.floor?.name].filter(Boolean).join(", "),
      name: book.laneData?.name ?? "",
      sender: outbox.queue.sender,
      waiting: outbox.queue.durable ? String(outbox.count) : say("pad.lost_if_closed", { count: outbox.count }),
      clock: error === undefined ? say("pad.not_set") : say("pad.within", { ms: Math.ceil(error) }),
      reload: state.kept ? say("pad.opens_offline") : say("pad.needs_network"),
      screen: awake ? say("pad.stays_on") : say("pad.may_sleep"),
    };
  },
  mayPractise: () => state.book.frame?.heat.status !== "running",
  mayWithdraw: () => viewAt(state, now()).withdraw,
  swapHands: () => dispatch({ type: "hand" }),
  withdraw: (reason) => touch(performance.now(), () => ({ type: "withdrawn", reason })),
});

function render() {
  const instant = now();
  const choose = (/** @type {string} */ choice) => touch(performance.now(), () => ({ type: "chosen", choice }));
  const { view, ...shown } = shownAt(state, instant);
  screen.show(view, { ...shown, choose });
}

part(document.body, "practise").setAttribute("href", `../practice/${location.search}${location.hash}`);
beTheOnlyWindow(state.name, () => dispatch({ type: "doubled" }), takeOver);
addEventListener("pagehide", writeSeen);
document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && writeSeen());
document.addEventListener("contextmenu", (event) => event.preventDefault());
setInterval(() => dispatch({ type: "tick" }), TICK_MS);
setInterval(report, REPORT_EVERY_MS);
render();
arrived(() => dispatch({ type: "kept" }));
