/** The lane pad: a judge's phone. `/pad/?lane=4#key=…`, and `&heat=ID` to stay with one heat. */

import { heatClockMs } from "../shared/clock.js";
import { beTheOnlyWindow, buzz, deviceStorage, stayAwake } from "../shared/device.js";
import { clockText } from "../shared/format.js";
import { History } from "../shared/history.js";
import { position } from "../shared/plan.js";
import { Queue, randomHex } from "../shared/queue.js";
import { keyFrom, openWire, SENDERS_VIEW } from "../shared/socket.js";
import { LaneBook } from "./book.js";
import { doneAt, openAttempt, unitsLeft } from "./counting.js";
import { loadSteps, nextLoad, stepped } from "../shared/lift.js";
import { createTouchGuard, onPress } from "./press.js";
import { Screen } from "./screen.js";
import { openSheets } from "./sheets.js";
import { entryName, padView } from "./view.js";

/** Long enough that a hand that brushes a key does nothing, short enough for a call made aloud. */
const KEY_HOLD_MS = 250;
/** A block or a measured station is worth a lot at once. */
const STATION_HOLD_MS = 500;
const START_HOLD_MS = 1000;
const MESSAGE_MS = 4000;
const WARNING_MS = 10_000;
const CHOICES_MS = 5000;
const TICK_MS = 200;
/** Why a repetition did not count, in the words judges use. */
const REASONS = ["range", "lock-out", "start", "control", "line"];
/** How long the surface must be held, by what it does. */
const HOLDS_MS = {
  tap: 0,
  locked: 0,
  block: STATION_HOLD_MS,
  measure: STATION_HOLD_MS,
  declare: STATION_HOLD_MS,
  lift: STATION_HOLD_MS,
  start: START_HOLD_MS,
};
/** For a station that a machine counts and that ends before its end. */
const STEPS = [1, 5, 10];

const query = new URLSearchParams(location.search);
const lane = Number(query.get("lane"));
const heat = query.get("heat") ?? "floor";
const name = `lane-${lane}`;
const storage = deviceStorage();
const queue = new Queue({ storage, name, makeSender: () => `${name}-${randomHex(3)}` });
const book = new LaneBook({
  queue,
  history: new History(storage, name),
  lane,
  makeId: () => randomHex(16),
  onCorrection: ({ from, to }) => say(correctionText(from, to), WARNING_MS),
});
const guard = createTouchGuard();
const awake = stayAwake();

/** What the page remembers beside the book. */
const state = {
  link: { up: false, since: Date.now() },
  answeredAt: Date.now(),
  mode: /** @type {"live" | "rehearsal"} */ ("live"),
  speed: 1,
  barred: /** @type {string | undefined} */ (lane >= 1 ? undefined : "Found no lane in the address: ask the table for the link"),
  startedHere: /** @type {number | undefined} */ (undefined),
  message: { text: "", until: 0 },
  reasonsUntil: 0,
  /** Max load: what the judge is about to declare, chosen here; undefined: what is usual next. */
  loadMilli: /** @type {number | undefined} */ (undefined),
};

const screen = new Screen(document.body, { member: listenToMember });

const wire = openWire({
  role: "lane",
  key: keyFrom(location),
  lane,
  sender: () => queue.sender,
  watch: [{ view: SENDERS_VIEW, heat }],
  onFrame(_view, frame) {
    if (frame.heat.id !== book.frame?.heat.id) Object.assign(state, { startedHere: undefined, loadMilli: undefined });
    book.takeFrame(frame, Date.now());
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
  if (message.type === "welcome") {
    Object.assign(state, { mode: message.mode, speed: message.speed, answeredAt: Date.now() });
    book.welcome(message.watermark ?? 0, Date.now());
    flush();
  } else if (message.type === "acknowledged") {
    state.answeredAt = Date.now();
    book.acknowledge(message, Date.now());
    for (const refusal of message.refused) say(`The table did not take it: ${refusal.message}`, WARNING_MS);
  } else if (message.type === "gap") {
    if (queue.gap(message.expected)) wire.restart();
    else flush();
  } else if (message.code === "not_allowed") {
    state.barred = "This page has no valid key for this lane. Ask the table for the link";
  } else {
    say(`The table could not read a message: ${message.message}`, WARNING_MS);
  }
}

/** Send what was not sent on this link. Without a link it stays in the queue. */
function flush() {
  if (!state.link.up || state.barred) return;
  queue.drain((facts) => wire.send({ type: "facts", facts }));
}

/** The heat clock now; undefined before the start. */
function clockMs() {
  if (!book.frame) return undefined;
  const { clock, speed } = book.frame;
  const { startedHere } = state;
  const alone = clock.zero_unix_ms === undefined && startedHere !== undefined;
  const known = alone ? { ...clock, zero_unix_ms: startedHere, zero_at_ms: 0 } : clock;
  return heatClockMs(known, speed ?? state.speed, wire.clock.nowMs());
}

function view() {
  return padView({
    book,
    lane,
    waiting: queue.waiting.length,
    waitingMs: Date.now() - state.answeredAt,
    durable: queue.durable,
    link: { up: state.link.up, forMs: Date.now() - state.link.since },
    mode: state.mode,
    clockMs: clockMs(),
    barred: state.barred,
    loadMilli: loadMilli(),
    member: member(),
  });
}

/** Max load: the load that would be declared now. */
function loadMilli() {
  const lifting = book.frame?.event.lifting;
  return lifting && (state.loadMilli ?? nextLoad(lifting, book.count?.attempts ?? []));
}

/** Teams that share the work: for whom a touch counts, as chosen on this phone; undefined: all of them, or in turn. */
function member() {
  const team = book.frame?.event.team;
  const [heatId, id] = (storage.getItem(`tallywire.${name}.member`) ?? "").split(" ");
  const chosen = heatId === book.frame?.heat.id ? Number(id) : 0;
  if (!team || team.form === "relay") return undefined;
  if (chosen >= 1 && chosen <= team.size) return chosen;
  return team.form === "shared" ? 1 : undefined;
}

/**
 * @param {number} from
 * @param {number} to
 */
function correctionText(from, to) {
  return book.frame?.event.lifting ? "The table changed the attempts" : `The table set your count from ${from} to ${to}`;
}

/**
 * Do something to the book that makes facts, send them and show the result at once.
 *
 * @param {() => void} act
 */
function change(act) {
  if (!queue.waiting.length) state.answeredAt = Date.now();
  act();
  flush();
  render();
}

onPress(screen.surface, {
  holdMs: () => HOLDS_MS[view().surface],
  begin: () => ({ surface: view().surface, atMs: clockMs() ?? 0, nowMs: wire.clock.nowMs() }),
  done: (began, point) => {
    if (began.surface === view().surface) touched(began, point); // the table may have moved the lane on meanwhile
  },
  short: () => warn("Too short: hold"),
});

/**
 * @param {{surface: string, atMs: number, nowMs: number}} began
 * @param {{x: number, y: number} | undefined} point
 */
function touched({ surface, atMs, nowMs }, point) {
  const { frame, count } = book;
  if (!frame || !count) return;
  if (surface === "tap") countOne(atMs, point);
  else if (surface === "block") change(() => book.completeBlock(atMs, member()));
  else if (surface === "measure") change(() => book.countUnits(atMs, unitsLeft(frame.event, doneNow()), member()));
  else if (surface === "declare") declare(atMs);
  else if (surface === "lift") change(() => book.judgeAttempt(atMs, true));
  else if (surface === "start") state.startedHere = nowMs;
  if (HOLDS_MS[/** @type {keyof typeof HOLDS_MS} */ (surface)] === STATION_HOLD_MS) buzz("block");
  closeChoices();
  render();
}

/** Units done of what is being done now. */
function doneNow() {
  return book.frame && book.count ? doneAt(book.frame.event, book.count, clockMs()) : 0;
}

/** @param {number} atMs */
function declare(atMs) {
  const load = loadMilli();
  if (load === undefined) return;
  change(() => book.declareAttempt(atMs, load));
  state.loadMilli = undefined;
}

/**
 * @param {number} atMs
 * @param {{x: number, y: number} | undefined} point
 */
function countOne(atMs, point) {
  const { frame, count } = book;
  if (!frame || !count) return;
  const { leg, station_done } = position(frame.event, doneNow());
  if (!guard(performance.now(), leg.touch_guard_ms)) {
    say("Double touch ignored", MESSAGE_MS);
    return;
  }
  buzz(station_done + 1 >= leg.amount ? "mark" : "rep");
  screen.ring(point);
  state.message.text = "";
  change(() => book.countUnits(atMs, 1, member()));
}

onPress(screen.undo, {
  holdMs: () => KEY_HOLD_MS,
  begin: () => clockMs() ?? 0,
  done: undo,
  short: () => warn("Hold to undo"),
});

/** @param {number} atMs */
function undo(atMs) {
  if (!view().undo) return warn("Nothing to undo on this phone");
  change(() => {
    const struck = book.undo(atMs);
    if (struck) say(`Undone: ${entryName(struck)}`, MESSAGE_MS);
  });
  closeChoices();
  buzz("undo");
  render();
}

onPress(screen.noRep, {
  holdMs: () => KEY_HOLD_MS,
  begin: () => clockMs() ?? 0,
  done: callNoRep,
  short: () => warn("Hold to call a no-rep"),
});

/** @param {number} atMs */
function callNoRep(atMs) {
  if (!view().noRep) return warn(book.frame?.event.lifting ? "Declare the load first" : "No no-rep now");
  if (book.count && openAttempt(book.count)) change(() => book.judgeAttempt(atMs, false));
  else change(() => book.callNoRep(atMs));
  buzz("noRep");
  state.reasonsUntil = Date.now() + CHOICES_MS;
  render();
}

onPress(screen.finish, {
  holdMs: () => KEY_HOLD_MS,
  begin: () => clockMs() ?? 0,
  done(atMs) {
    if (!view().finish) return;
    change(() => book.callFinish(atMs));
    say(`Finish called at ${clockText(atMs)}. Count the reps that are missing, or tell the table`, WARNING_MS);
    buzz("block");
  },
  short: () => warn("Hold to call the finish"),
});

/** @param {string} text */
function warn(text) {
  buzz("short");
  say(text, MESSAGE_MS);
}

/**
 * @param {string} text
 * @param {number} ms
 */
function say(text, ms) {
  state.message = { text, until: Date.now() + ms };
  render();
}

function closeChoices() {
  state.reasonsUntil = 0;
}

/** What the second tap may choose now: why the no-rep was called, or units of a station that a machine counts. */
function choices() {
  if (state.reasonsUntil > Date.now() && book.undoable?.fact === "no_rep_called") return REASONS;
  const { surface } = view();
  const lifting = book.frame?.event.lifting;
  if (surface === "declare" && lifting) return loadSteps(lifting);
  return surface === "measure" ? STEPS.map((step) => `+${step}`) : [];
}

/** @param {string} choice */
function choose(choice) {
  const lifting = book.frame?.event.lifting;
  if (lifting) state.loadMilli = stepped(lifting, loadMilli() ?? 0, choice);
  else if (choice.startsWith("+")) addUnits(Number(choice));
  else change(() => book.explainNoRep(choice));
  closeChoices();
  render();
}

/** @param {number} step */
function addUnits(step) {
  const { frame, count } = book;
  if (!frame || !count || view().surface !== "measure") return;
  change(() => book.countUnits(clockMs() ?? 0, Math.min(step, unitsLeft(frame.event, doneNow())), member()));
  buzz("rep");
}

/**
 * A key of a team: in a relay it passes the turn, else it says for whom a touch counts.
 *
 * @param {string} id a member's number, or `all`
 * @param {HTMLElement} key
 */
function listenToMember(id, key) {
  onPress(key, {
    holdMs: () => KEY_HOLD_MS,
    begin: () => clockMs() ?? 0,
    done: (atMs) => pressMember(id, atMs),
    short: () => warn("Hold to change"),
  });
}

/**
 * @param {string} id
 * @param {number} atMs
 */
function pressMember(id, atMs) {
  if (book.frame?.event.team?.form !== "relay") storage.setItem(`tallywire.${name}.member`, `${book.frame?.heat.id} ${id}`);
  else if (view().surface !== "locked") change(() => book.exchange(atMs, Number(id)));
  else return warn("No change now");
  buzz("rep");
  render();
}

openSheets(document.body, {
  facts: () => ({
    lane: String(lane),
    name: book.laneData?.name ?? "",
    sender: queue.sender,
    waiting: queue.durable ? String(queue.waiting.length) : `${queue.waiting.length}, lost if this page closes`,
    clock: wire.clock.errorMs() === undefined ? "not set" : `within ${Math.ceil(wire.clock.errorMs() ?? 0)} ms`,
    screen: awake ? "stays on" : "may sleep: set a long time-out",
  }),
  mayWithdraw: () => view().withdraw,
  swapHands() {
    storage.setItem("tallywire.hand", storage.getItem("tallywire.hand") === "left" ? "right" : "left");
    render();
  },
  withdraw(reason) {
    if (view().withdraw) change(() => book.withdraw(clockMs() ?? 0, reason));
  },
});

function render() {
  const message = state.message.until > Date.now() ? state.message.text : "";
  screen.show(view(), { message, choices: choices(), choose, hand: storage.getItem("tallywire.hand") ?? "right" });
}

beTheOnlyWindow(name, () => {
  state.barred = "This lane is open in another window of this browser. Count there";
  wire.close();
  render();
});
document.addEventListener("contextmenu", (event) => event.preventDefault());
setInterval(() => {
  book.settle(Date.now());
  render();
}, TICK_MS);
render();
