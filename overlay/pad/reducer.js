/**
 * What happens on a lane pad: a state and an event make the next state, and a list of effects that the page carries out
 * in their order. It uses no clock, no socket, no storage and no DOM: an event brings its instant, and writes are
 * effects.
 * @typedef {import("./state.js").PadState} PadState
 * @typedef {import("./state.js").Instant} Instant
 * @typedef {{x: number, y: number}} Point
 * @typedef {"rep" | "mark" | "block" | "noRep" | "undo" | "short"} Buzz
 *
 * @typedef {{type: "frame", frame: import("../shared/types.js").HeatFrame}} FrameCame
 * @typedef {{type: "link", link: PadState["link"]}} LinkChanged
 * @typedef {{type: "message", message: import("../shared/types.js").Notice}} MessageCame
 * @typedef {{type: "pressed", began: Began, point?: Point}} Pressed the surface was touched or held long enough
 * @typedef {{type: "undo" | "noRep" | "finish", atMs: number}} KeyHeld
 * @typedef {{type: "short", key: "surface" | "undo" | "noRep" | "finish" | "member"}} LetGo a key was let go too early
 * @typedef {{type: "chosen", choice: string}} Chosen
 * @typedef {{type: "member", member: string, atMs: number}} MemberHeld
 * @typedef {{type: "withdrawn", reason: string}} Withdrawn
 * @typedef {{type: "hand" | "doubled" | "notKept" | "kept" | "held" | "tick"}} Plain hands swapped, a second window, storage full, opens without the network, a touch
 *   that waits for the server's clock, time passed
 * @typedef {FrameCame | LinkChanged | MessageCame | Pressed | KeyHeld | LetGo | Chosen | MemberHeld | Withdrawn | Plain} PadEvent
 *
 * @typedef {{surface: string, atMs: number, serverMs: number}} Began what the surface was, and when, as the finger came
 *
 * @typedef {object} Stored
 * @property {"store"} do
 * @property {string} key
 * @property {string | null} text null: take it away
 * @typedef {object} Remembered what the page opens with next time; the newest one counts
 * @property {"remember"} do
 * @property {string} key
 * @property {object} seen
 * @property {Stored[]} [then] written after it, and not before: what the queue forgets because it is in `seen`
 * @typedef {{do: "send", facts: import("../shared/types.js").FactData[]}} Sent
 * @typedef {{do: "buzz", kind: Buzz} | {do: "ring", point?: Point} | {do: "restart"} | {do: "close"}} Done
 * @typedef {Stored | Remembered | Sent | Done} PadEffect
 */

import { refusalText } from "../shared/refusal.js";
import { barredBecause } from "../shared/barred.js";
import { formatOf } from "../formats/registry.js";
import { clockText } from "../shared/format.js";
import { position, unitsLeft } from "../shared/plan.js";
import { say } from "../shared/say.js";
import { clockMs, mayExplain, memberOf, momentAt, storedAt, storeWords, viewAt } from "./state.js";
import { entryName } from "./view.js";

const MESSAGE_MS = 4000;
const WARNING_MS = 10_000;
const CHOICES_MS = 5000;
/** A block, a measured station or a lift is worth a lot at once, so it has to be held. */
const STATION_HOLD_MS = 500;
const START_HOLD_MS = 1000;

/** What the pad says when a key was let go too early. */
const SHORT = {
  surface: say("pad.hold_surface"),
  undo: say("pad.hold_undo"),
  noRep: say("pad.hold_no_rep"),
  finish: say("pad.hold_finish"),
  member: say("pad.hold_member"),
};

/**
 * How long the surface must be held, by what it is; 0: a touch is enough.
 *
 * @param {string} surface
 */
export function holdMs(surface) {
  if (surface === "tap" || surface === "locked") return 0;
  return surface === "start" ? START_HOLD_MS : STATION_HOLD_MS;
}

/**
 * @param {PadState} state
 * @param {PadEvent} event
 * @param {Instant} instant
 * @returns {{state: PadState, effects: PadEffect[]}}
 */
export function reduce(state, event, instant) {
  const step = new Step(state, instant);
  step.take(event);
  return { state: step.state, effects: [...step.effects, ...step.later] };
}

/**
 * A storage whose writes are effects.
 *
 * @param {PadEffect[]} effects
 * @returns {import("../shared/queue.js").StoragePort}
 */
function storageInto(effects) {
  return {
    getItem: () => null,
    setItem: (key, text) => void effects.push({ do: "store", key, text }),
    removeItem: (key) => void effects.push({ do: "store", key, text: null }),
  };
}

/** One step from a state to the next: it works on copies, and gathers the effects. */
class Step {
  /** @type {PadEffect[]} */
  effects = [];
  /** What a fact on its way to the server does not wait for. @type {PadEffect[]} */
  later = [];
  #instant;
  #made = 0;

  /**
   * @param {PadState} before
   * @param {Instant} instant
   */
  constructor(before, instant) {
    this.#instant = instant;
    const [storage, later] = [this.effects, this.later].map(storageInto);
    const outbox = before.outbox.copy({ storage, later, makeSender: () => instant.sender, uncertainMs: instant.uncertainMs });
    const { queue, history } = outbox;
    const { start } = instant;
    const book = before.book.copy({ queue, history, start, makeId: () => this.#id(), onCorrection: (made) => this.#corrected(made) });
    this.state = { ...before, outbox, book };
  }

  /** @param {PadEvent} event */
  take(event) {
    if (event.type === "frame") this.#frame(event.frame);
    else if (event.type === "link") this.#change({ link: event.link });
    else if (event.type === "message") this.#hear(event.message);
    else if (event.type === "pressed") this.#pressed(event);
    else if (event.type === "undo") this.#undo(event.atMs);
    else if (event.type === "noRep") this.#noRep(event.atMs);
    else if (event.type === "finish") this.#finish(event.atMs);
    else if (event.type === "short") this.#warn(SHORT[event.key]);
    else if (event.type === "chosen") this.#choose(event.choice);
    else if (event.type === "member") this.#member(event);
    else if (event.type === "withdrawn") this.#withdraw(event.reason);
    else if (event.type === "hand") this.#swapHands();
    else if (event.type === "doubled") this.#double();
    else if (event.type === "held") this.#say(say("pad.touch_kept"), MESSAGE_MS);
    else if (event.type === "kept") this.#change({ kept: true });
    else if (event.type === "notKept") this.state.outbox.queue.notKept();
    else this.state.book.settle(this.#instant.nowMs);
  }

  /** @param {import("../shared/types.js").HeatFrame} frame */
  #frame(frame) {
    const { book } = this.state;
    if (frame.heat.id !== book.frame?.heat.id) this.#change({ startedHere: undefined, chosen: undefined });
    book.takeFrame(frame, this.#instant.nowMs);
    this.#remember(frame);
    this.#flush(); // what waited for the heat to be called
  }

  /**
   * The page opens with it while there is no network.
   *
   * @param {import("../shared/types.js").HeatFrame} frame
   * @param {Stored[]} [then]
   */
  #remember(frame, then) {
    const { nowMs, serverMs, uncertainMs } = this.#instant;
    const apart = uncertainMs === undefined ? {} : { apartMs: Math.round(serverMs - nowMs) };
    this.later.push({ do: "remember", key: storedAt(this.state.name).seen, seen: { frame, ...apart }, ...(then?.length && { then }) });
  }

  /**
   * An answer is ahead of the frame that shows what it took: a page that is loaded again in between must not miss it. So
   * the queue lets go of nothing before the count with it is written.
   *
   * @param {import("../shared/types.js").Acknowledged} message
   * @param {number} since the queue's writes about it are the effects from this one on
   */
  #rememberTally({ tally, watermark }, since) {
    const { outbox, book } = this.state;
    const { frame, laneData } = book;
    if (!tally || !frame || !laneData || tally.heat !== frame.heat.id || watermark < outbox.queue.watermark) return;
    const { heat: _, ...counted } = tally;
    this.#remember({ ...frame, lanes: { ...frame.lanes, [laneData.lane]: { ...laneData, ...counted } } }, /** @type {Stored[]} */ (this.effects.splice(since)));
  }

  /** @param {import("../shared/types.js").Notice} message */
  #hear(message) {
    const { outbox, book } = this.state;
    if (message.type === "welcome") this.#change({ mode: message.mode, speed: message.speed });
    // A server whose disk is still full says so again after the welcome.
    if (message.type === "welcome" && this.state.message.until === Infinity) this.#say(storeWords(this.state.fault), Infinity);
    const since = this.effects.length;
    const heard = outbox.hear(message, this.#instant.nowMs, book);
    if (message.type === "acknowledged") this.#rememberTally(message, since);
    if (heard) {
      for (const why of heard.refused) this.#say(say("pad.not_taken", { why }), WARNING_MS);
      if (heard.restart) this.effects.push({ do: "restart" });
      if (heard.send) this.#flush();
    } else if (message.type === "storage") {
      this.#say(say("crew.server_says", { message: refusalText(message) }), message.state === "held" ? Infinity : WARNING_MS);
    } else if (message.type === "error") this.#fail(message);
  }

  /** @param {import("../shared/types.js").WireError} error */
  #fail(error) {
    const barred = barredBecause(error, say("pad.this_lane"));
    if (barred) this.#change({ barred });
    else this.#say(say("pad.not_read", { message: refusalText(error) }), WARNING_MS);
  }

  /** @param {{began: Began, point?: Point}} event */
  #pressed({ began, point }) {
    const { surface, atMs, serverMs } = began;
    const moment = momentAt(this.state, this.#instant);
    // The table may have moved the lane on since the finger came.
    if (!this.state.book.frame || surface !== this.#view().surface) return;
    if (surface === "start") this.#change({ startedHere: serverMs });
    else if (!moment) return;
    else if (surface === "tap") this.#tap(atMs, moment, point);
    else if (surface === "block") this.#facts((book) => book.completeBlock(atMs, memberOf(this.state)));
    else if (surface === "measure") this.#count(atMs, moment, Infinity);
    else if (surface !== "locked") this.#ownPress(atMs, moment, surface);
    if (holdMs(surface) === STATION_HOLD_MS) this.#buzz("block");
    this.#change({ reasonsUntil: 0 });
  }

  /**
   * @param {number} atMs
   * @param {import("../formats/format.js").Moment} moment
   * @param {Point | undefined} point
   */
  #tap(atMs, moment, point) {
    const { leg, station_done } = position(moment.event, this.#doneNow(moment));
    const { tickMs } = this.#instant;
    if (tickMs - this.state.touchedAtMs < leg.touch_guard_ms) return this.#say(say("pad.double_touch"), MESSAGE_MS);
    this.#change({ touchedAtMs: tickMs, message: { text: "", until: 0 } });
    this.#count(atMs, moment, 1);
    this.#buzz(station_done + 1 >= leg.amount ? "mark" : "rep");
    this.effects.push({ do: "ring", ...(point && { point }) });
  }

  /**
   * @param {number} atMs
   * @param {import("../formats/format.js").Moment} moment
   * @param {string} surface
   */
  #ownPress(atMs, moment, surface) {
    const fact = formatOf(moment.event).pad.press(moment, surface);
    if (fact) this.#facts((book) => book.make(atMs, fact));
    this.#change({ chosen: undefined });
  }

  /**
   * Count units, but no more than are left of the station.
   *
   * @param {number} atMs
   * @param {import("../formats/format.js").Moment} moment
   * @param {number} units
   */
  #count(atMs, moment, units) {
    const left = unitsLeft(moment.event, this.#doneNow(moment));
    this.#facts((book) => book.countUnits(atMs, Math.min(units, left), memberOf(this.state)));
  }

  /** @param {number} atMs */
  #undo(atMs) {
    if (!this.#view().undo) return this.#warn(say("pad.nothing_to_undo"));
    this.#facts((book) => {
      const struck = book.undo(atMs);
      if (struck) this.#say(say("pad.undone", { what: entryName(struck) }), MESSAGE_MS);
    });
    this.#change({ reasonsUntil: 0 });
    this.#buzz("undo");
  }

  /** @param {number} atMs */
  #noRep(atMs) {
    const { frame, count } = this.state.book;
    const pad = frame && formatOf(frame.event).pad;
    if (!pad || !count || !this.#view().noRep) return this.#warn(pad?.noRepLater ?? say("plain.no_rep_later"));
    this.#facts((book) => book.make(atMs, pad.noRep(count)));
    this.#buzz("noRep");
    this.#change({ reasonsUntil: this.#instant.nowMs + CHOICES_MS });
  }

  /** @param {number} atMs */
  #finish(atMs) {
    if (!this.#view().finish) return;
    this.#facts((book) => book.make(atMs, { fact: "finished" }));
    this.#say(say("pad.finish_called", { time: clockText(atMs) }), WARNING_MS);
    this.#buzz("block");
  }

  /** @param {string} choice */
  #choose(choice) {
    const moment = momentAt(this.state, this.#instant);
    if (mayExplain(this.state, this.#instant)) this.#facts((book) => book.explainNoRep(choice));
    else if (moment) this.#ownChoice(moment, choice);
    this.#change({ reasonsUntil: 0 });
  }

  /**
   * A key beside the surface, which may have disappeared since it was drawn.
   *
   * @param {import("../formats/format.js").Moment} moment
   * @param {string} choice
   */
  #ownChoice(moment, choice) {
    const { pad } = formatOf(moment.event);
    if (!pad.choices(moment, this.#view().surface).includes(choice)) return;
    const { chosen, units } = pad.choose(moment, choice);
    this.#change({ chosen });
    if (units === undefined) return;
    this.#count(moment.clockMs ?? 0, moment, units);
    this.#buzz("rep");
  }

  /**
   * A key of a team: in a relay it passes the turn, otherwise it says for whom a touch counts.
   *
   * @param {{member: string, atMs: number}} event
   */
  #member({ member, atMs }) {
    const { book, name } = this.state;
    if (book.frame?.event.team?.form !== "relay") {
      this.#change({ member: `${book.frame?.heat.id} ${member}` });
      this.#store(storedAt(name).member, this.state.member);
    } else if (this.#view().surface === "locked") return this.#warn(say("pad.no_change"));
    else this.#facts((each) => each.exchange(atMs, Number(member)));
    this.#buzz("rep");
  }

  /** @param {string} reason */
  #withdraw(reason) {
    if (!this.#view().withdraw) return;
    this.#facts((book) => book.withdraw(clockMs(this.state, this.#instant) ?? 0, reason));
  }

  #swapHands() {
    this.#change({ hand: this.state.hand === "left" ? "right" : "left" });
    this.#store(storedAt(this.state.name).hand, this.state.hand);
  }

  #double() {
    this.#change({ barred: say("pad.other_window") });
    this.effects.push({ do: "close" });
  }

  /**
   * Do something to the book that makes facts, and send them.
   *
   * @param {(book: import("./book.js").LaneBook) => void} act
   */
  #facts(act) {
    this.state.outbox.begin(this.#instant.nowMs);
    act(this.state.book);
    this.#flush();
  }

  /** Send what was not sent on this link. Without a link it stays in the queue. */
  #flush() {
    const { link, barred, outbox, book } = this.state;
    const [first] = outbox.queue.waiting;
    // Started alone, before the table called the heat: the server would refuse what waits.
    const early = first && first.heat === book.frame?.heat.id && book.frame.open === false;
    if (link.up && !barred && !early) outbox.queue.drain((facts) => this.effects.push({ do: "send", facts }));
  }

  /** @param {import("../formats/format.js").Moment} moment */
  #doneNow({ event, count, clockMs: atMs }) {
    return formatOf(event).pad.done(event, count, atMs);
  }

  /** @param {{from: number, to: number}} correction */
  #corrected({ from, to }) {
    const { frame } = this.state.book;
    if (frame) this.#say(formatOf(frame.event).pad.corrected(from, to), WARNING_MS);
  }

  #view() {
    return viewAt(this.state, this.#instant);
  }

  #id() {
    this.#made += 1;
    return this.#made === 1 ? this.#instant.id : `${this.#instant.id}.${this.#made}`;
  }

  /** @param {Partial<PadState>} more */
  #change(more) {
    this.state = { ...this.state, ...more };
  }

  /**
   * @param {string} key
   * @param {string | null} text
   */
  #store(key, text) {
    this.effects.push({ do: "store", key, text });
  }

  /** @param {string} text */
  #warn(text) {
    this.#buzz("short");
    this.#say(text, MESSAGE_MS);
  }

  /**
   * @param {string} text
   * @param {number} ms
   */
  #say(text, ms) {
    this.#change({ message: { text, until: this.#instant.nowMs + ms } });
  }

  /** @param {Buzz} kind */
  #buzz(kind) {
    this.effects.push({ do: "buzz", kind });
  }
}
