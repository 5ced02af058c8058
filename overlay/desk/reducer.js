/**
 * What happens at the graphics desk: a state and an event make the next state, and a list of effects that the page carries
 * out in their order. It uses no clock, no socket, no storage and no DOM: an event brings its instant, and writes are
 * effects.
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").OutputData} OutputData
 * @typedef {import("../shared/types.js").Json} Json
 * @typedef {import("./state.js").DeskState} DeskState
 * @typedef {import("./state.js").Instant} Instant
 *
 * @typedef {{type: "frame", view: string, frame: any, heat?: string, unixMs: number}} FrameCame the heat as it was asked for
 * @typedef {{type: "link", link: DeskState["link"]}} LinkChanged
 * @typedef {{type: "message", message: import("../shared/types.js").Notice}} MessageCame
 * @typedef {{type: "unsent", sequence: number}} Unsent the link was away when a fact was to go
 * @typedef {{type: "act", id: string}} Acted a key or a button, by the name of its action (keys.js)
 * @typedef {{type: "choose", item: Item}} Chosen a view as it begins
 * @typedef {{type: "line", line: number}} LineChosen of the rundown
 * @typedef {{type: "pick", subject: string}} Picked
 * @typedef {{type: "output", name: string}} OutputChosen
 * @typedef {{type: "heat", heat: string}} HeatChosen
 * @typedef {{type: "delay", ms: number}} DelayTyped
 * @typedef {{type: "accept" | "drop", key: string}} Proposed
 * @typedef {{type: "changeKey", id: string} | {type: "newKey", key: string} | {type: "usualKeys"}} KeysChanged
 * @typedef {{type: "saveRundown"}} RundownSaved the operator wants it to be the file's
 * @typedef {{type: "said", text: string}} Said the server has answered
 * @typedef {{type: "begin"} | {type: "tick"}} Plain a connection begins, time passed
 * @typedef {FrameCame | LinkChanged | MessageCame | Unsent | Said | Plain} FromOutside
 * @typedef {Acted | Chosen | LineChosen | Picked | OutputChosen | HeatChosen | DelayTyped | Proposed | KeysChanged | RundownSaved} FromOperator
 * @typedef {FromOutside | FromOperator} DeskEvent
 *
 * @typedef {{do: "send", message: {type: "facts", facts: {sequence: number}[]}}} Sent
 * @typedef {Sent | {do: "store", key: string, text: string} | {do: "restart"} | {do: "saveRundown", output: string}} DeskEffect
 */

import { refusalText } from "../shared/refusal.js";
import { barredBecause } from "../shared/barred.js";
import { heatClockMs } from "../shared/clock.js";
import { LONGEST_DELAY_MS } from "../shared/delay.js";
import { FLOOR } from "../shared/floor.js";
import { say } from "../shared/say.js";
import { editFields, editOf, editedBy, same } from "./edits.js";
import { itemText, pickSubject, refusal } from "./items.js";
import { clockMs, copySide, floorAt, outputOf, settingsOf, sideOf } from "./state.js";

const MESSAGE_MS = 8000;
/** How long the server may take to answer a request. */
const ANSWER_MS = 500;
const DELAY_STEP_MS = 100;
/** After so long without an answer a change of the rundown may be tried again. */
const EDIT_MS = 2000;
/** So many changes of a rundown can be taken back. */
const DONE_MOST = 50;
const MODES = /** @type {const} */ (["off", "propose", "take"]);

/**
 * @param {DeskState} state
 * @param {DeskEvent} event
 * @param {Instant} instant
 * @returns {{state: DeskState, effects: DeskEffect[]}}
 */
export function reduce(state, event, instant) {
  const step = new Step(state, instant);
  step.take(event);
  return { state: step.state, effects: step.effects };
}

/** One step from a state to the next: it works on copies, and gathers the effects. */
class Step {
  /** @type {DeskEffect[]} */
  effects = [];
  #instant;
  #made = 0;

  /**
   * @param {DeskState} before
   * @param {Instant} instant
   */
  constructor(before, instant) {
    this.#instant = instant;
    const sender = before.sender.copy((message) => this.#post(message));
    const keys = before.keys.copy((key, text) => this.effects.push({ do: "store", key, text }));
    const names = new Set([...Object.keys(before.sides), ...Object.keys(before.show?.outputs ?? {}), before.output]);
    const sides = Object.fromEntries([...names].map((name) => [name, copySide(sideOf(before, name))]));
    this.state = { ...before, sender, keys, digits: before.digits.copy(), sides };
  }

  /** @param {DeskEvent} event */
  take(event) {
    if (event.type === "frame") this.#frame(event);
    else if (event.type === "link") this.#link(event.link);
    else if (event.type === "message") this.#hear(event.message);
    else if (event.type === "unsent") this.#unsent(this.state.sender.unsent(event.sequence));
    else if (event.type === "said") this.#say(event.text);
    else if (event.type === "begin") this.state.sender.begin();
    else if (event.type === "tick") this.#look();
    else this.#operate(event);
  }

  /** @param {FromOperator} event */
  #operate(event) {
    if (event.type === "act") this.#act(event.id);
    else if (event.type === "choose") this.#choose(event.item);
    else if (event.type === "line") this.#withHand((hand, { rundown }) => hand.prepareLine(rundown, event.line));
    else if (event.type === "pick") this.#pick(event.subject);
    else if (event.type === "output") this.#work(event.name);
    else if (event.type === "heat") this.#change({ heat: event.heat });
    else if (event.type === "delay") this.#setDelay(event.ms);
    else if (event.type === "accept") this.#accept(event.key);
    else if (event.type === "drop") this.#side().rules.drop(event.key);
    else if (event.type === "changeKey") this.#change({ changing: this.state.changing === event.id ? "" : event.id });
    else if (event.type === "saveRundown") this.effects.push({ do: "saveRundown", output: this.state.output });
    else if (event.type === "newKey") this.#newKey(event.key);
    else this.state.keys.reset();
  }

  /** @param {FrameCame} came */
  #frame({ view, frame, heat = FLOOR, unixMs }) {
    if (view === "show") this.#takeShow(frame);
    else if (view === "subjects") this.#change({ told: { heat, frame } });
    else if (view === "booth") this.#change({ booth: { heat, frame } });
    else {
      this.#change({ frames: { ...this.state.frames, [heat]: frame } });
      const outputs = Object.keys(this.state.show?.outputs ?? {}).filter((name) => floorAt(this.state, name) === heat);
      for (const name of outputs) this.#side(name).line.add("heat", unixMs, frame, frame.jumps);
    }
    const { show, output } = this.state;
    this.#work(show && !show.outputs[output] ? (Object.keys(show.outputs)[0] ?? "") : output);
    this.#look();
  }

  /** @param {import("../shared/types.js").ShowFrame} show */
  #takeShow(show) {
    const before = this.state.show;
    this.#change({ show });
    for (const [name, { rundown }] of Object.entries(show?.outputs ?? {})) {
      const old = before?.outputs[name]?.rundown;
      if (old && !same(old, rundown)) this.#changed(this.#side(name), old, rundown);
    }
  }

  /**
   * A rundown is another one now: by this desk's own change, or by another desk's.
   *
   * @param {import("./state.js").Side} side
   * @param {Item[]} before
   * @param {Item[]} after
   */
  #changed(side, before, after) {
    const { editing, hand } = side;
    const isOwn = editing !== undefined && same(editedBy(before, editing.edit), after);
    if (isOwn && editing.kind === "restore") side.done = side.done.slice(0, -1);
    else if (isOwn) side.done = [...side.done, editing.edit].slice(-DONE_MOST);
    if (isOwn && editing.edit.hand !== undefined) hand.prepareLine(after, editing.edit.hand);
    else hand.follow(before, after);
    side.editing = undefined;
  }

  /** @param {import("./edits.js").Kind} kind */
  #edit(kind) {
    const now = outputOf(this.state);
    const side = this.#side();
    // One after the other: a change says of which rundown it is one.
    if (!now || (side.editing && this.#instant.nowMs < side.editing.until)) return;
    const { rundown, rundown_edits = 0, rundown_digest = "" } = now;
    const edit = editOf(kind, { rundown, line: side.hand.line, item: side.hand.item, done: side.done });
    if (typeof edit === "string") return this.#say(edit);
    const fields = { fact: "rundown_edited", edit: rundown_edits + 1, before: rundown_digest, ...editFields(edit) };
    if (this.#send(fields, say("desk.the_change"))) side.editing = { edit, kind, until: this.#instant.nowMs + EDIT_MS };
  }

  /**
   * Work an output: what is seen is the heat on its floor.
   *
   * @param {string} output
   */
  #work(output) {
    this.#change({ output });
    const { frames, told } = this.state;
    const heat = floorAt(this.state);
    this.#change({ frame: frames[heat], subjects: told?.heat === heat ? told.frame : undefined });
  }

  /** @param {DeskState["link"]} link */
  #link(link) {
    this.#change({ link });
    const lost = link.up ? [] : this.state.sender.lose();
    for (const words of lost) this.#say(say("desk.maybe_lost", { what: words }));
  }

  /** @param {import("../shared/types.js").Notice} message */
  #hear(message) {
    if (message.type === "welcome") this.#change({ mode: message.mode, speed: message.speed });
    else if (message.type === "acknowledged") this.#answered(message);
    else if (message.type === "gap") this.effects.push({ do: "restart" }); // facts are counted anew on the next connection
    else if (message.type === "storage") this.#say(say("crew.server_says", { message: refusalText(message) }));
    else this.#fail(message);
  }

  /** @param {import("../shared/types.js").Acknowledged} message */
  #answered(message) {
    for (const told of this.state.sender.take(message)) this.#say(told);
    if (message.refused.length) this.#side().editing = undefined;
  }

  /** @param {import("../shared/types.js").WireError} error */
  #fail(error) {
    const barred = barredBecause(error, say("desk.the_desk"));
    if (barred) this.#change({ barred });
    else this.#say(say("crew.not_read", { message: refusalText(error) }));
  }

  /**
   * Do what a key or a button stands for.
   *
   * @param {string} id of keys.js
   */
  #act(id) {
    const [first] = this.state.proposals;
    const delayMs = settingsOf(this.state, this.#instant).delay_ms;
    const deeds = /** @type {Record<string, () => void>} */ ({
      take: () => this.#takeItem(this.#side().hand.item),
      clear: () => this.#send({ fact: "view_cleared", by: "operator" }, say("desk.clear")),
      next: () => this.#withHand((hand, { rundown }) => hand.step(rundown, 1)),
      previous: () => this.#withHand((hand, { rundown }) => hand.step(rundown, -1)),
      leader: () => this.#pick("leader"),
      fastest: () => this.#pick("fastest"),
      finisher: () => this.#pick("finisher"),
      battle: () => this.#toggleBattle(),
      by: () => this.#change({ by: this.state.by === "lane" ? "place" : "lane" }),
      output: () => this.#nextOutput(),
      automatic: () => this.#stepAutomatic(),
      proposal: () => first && this.#accept(first.key),
      dismiss: () => first && this.#side().rules.drop(first.key),
      later: () => this.#setDelay(delayMs + DELAY_STEP_MS),
      sooner: () => this.#setDelay(delayMs - DELAY_STEP_MS),
      add: () => this.#edit("add"),
      up: () => this.#edit("up"),
      down: () => this.#edit("down"),
      remove: () => this.#edit("remove"),
      restore: () => this.#edit("restore"),
    });
    if (id.startsWith("digit")) this.#typed(id.slice("digit".length));
    else deeds[id]?.();
    this.#look();
  }

  /** @param {Item} fresh */
  #choose(fresh) {
    const [first] = this.#side().hand.item?.params.who?.split(",") ?? [];
    // A subject in hand stays in hand where one is asked for and nobody in particular is meant.
    const stays = first !== undefined && fresh.params.who === "leader";
    this.#prepare(stays ? { ...fresh, params: { who: first.replace("battle", "place") } } : fresh);
  }

  /** @param {Item} item */
  #prepare(item) {
    const { heat } = this.state;
    this.#withHand((hand) => hand.prepare({ ...item, params: heat ? { ...item.params, heat } : item.params }));
  }

  /** @param {string} subject */
  #pick(subject) {
    this.#withHand((hand) => {
      const { item } = hand;
      const view = item && this.state.show?.views[item.view];
      if (!item || !view?.most) return this.#say(say("desk.whole_heat"));
      hand.prepare(pickSubject(item, view.most === 1 ? subject.replace("battle", "place") : subject, view));
    });
  }

  /** The number keys pick battles for a place, beginning with the first, or no longer. */
  #toggleBattle() {
    this.#change({ battle: !this.state.battle });
    if (this.state.battle) this.#pick("battle:1");
  }

  /** @param {string} digit */
  #typed(digit) {
    const { frame, subjects, by, battle, digits } = this.state;
    const lanes = [...Object.keys(frame?.lanes ?? {}).map(Number), ...(subjects?.held ?? [])];
    const isKnown = (/** @type {number} */ each) => (by === "lane" && !battle ? lanes.includes(each) : each <= lanes.length);
    const number = digits.press(digit, this.#instant.tickMs, isKnown);
    if (number !== undefined) this.#pick(`${battle ? "battle" : by}:${number}`);
  }

  /** @param {Item | undefined} item */
  #takeItem(item) {
    const { show, subjects } = this.state;
    if (!item || !show) return this.#say(say("desk.not_prepared"));
    const reason = refusal(item, show, subjects);
    if (reason !== undefined) return this.#say(say("desk.not_taken", { reason }));
    const { view, params } = item;
    const { hand } = this.#side();
    const sent = this.#send({ fact: "view_taken", view, params, by: "operator" }, say("desk.did_take", { what: itemText(item, show) }));
    if (sent && item === hand.item) hand.taken(outputOf(this.state)?.rundown ?? []);
  }

  /** @param {string} key */
  #accept(key) {
    const proposal = this.#side().proposals.find((each) => each.key === key);
    if (!proposal) return;
    this.#takeItem(proposal.item);
    this.#side().rules.drop(key);
    this.#look();
  }

  /** @param {number} ms */
  #setDelay(ms) {
    const delay_ms = Math.min(Math.max(Math.round(ms), 0), LONGEST_DELAY_MS);
    if (!outputOf(this.state) || delay_ms === settingsOf(this.state, this.#instant).delay_ms) return;
    if (this.#send({ fact: "delay_set", delay_ms }, say("desk.did_delay", { seconds: delay_ms / 1000 }))) this.#ask({ delay_ms });
  }

  #stepAutomatic() {
    // Before the first picture of the outputs there is nothing to step from: "off" would be a guess.
    if (!outputOf(this.state)) return;
    const now = settingsOf(this.state, this.#instant).automatic;
    // Another desk's automatic mode is taken over as it is, not switched.
    const ours = this.state.ours || this.#instant.nowMs < this.#side().asked.until;
    const automatic = ours || now === "off" ? MODES[(MODES.indexOf(now) + 1) % MODES.length] : now;
    if (this.#send({ fact: "automatic_set", automatic }, say(`desk.did_automatic_${automatic}`))) this.#ask({ automatic });
  }

  #nextOutput() {
    const names = Object.keys(this.state.show?.outputs ?? {});
    const { output } = this.state;
    this.#work(names[(names.indexOf(output) + 1) % names.length] ?? output);
  }

  /** @param {string} key */
  #newKey(key) {
    const wrong = key === "Escape" ? undefined : this.state.keys.set(this.state.changing, key);
    if (wrong) this.#say(wrong);
    else this.#change({ changing: "" });
  }

  /** Let the rules of every output look at the heat as that output shows it. */
  #look() {
    const { known, serverMs, tickMs } = this.#instant;
    for (const [name, output] of Object.entries(this.state.show?.outputs ?? {})) {
      const own = this.#side(name);
      own.line.delayMs = output.delay_ms;
      for (const { value } of own.line.advance(tickMs, known ? serverMs : undefined)) own.shown = value;
      const ours = output.automatic !== "off" && this.#isOurs(output);
      own.proposals = ours && own.shown && this.state.link.up ? this.#follow(name, output, own, own.shown) : [];
    }
    this.#change({ ours: this.#isOurs(outputOf(this.state)), proposals: this.#side().proposals });
  }

  /**
   * @param {string} name
   * @param {OutputData} output
   * @param {import("./state.js").Side} own
   * @param {import("../shared/types.js").HeatFrame} frame as the output shows it
   */
  #follow(name, output, own, frame) {
    const nowMs = this.#instant.serverMs;
    const shownMs = heatClockMs(frame.clock, frame.speed ?? this.state.speed, own.line.shownMs ?? nowMs);
    const { proposals, act } = own.rules.step({ frame, clockMs: shownMs, output, nowMs });
    if (act && "clear" in act) this.#send({ fact: "view_cleared", by: "automatic" }, say("desk.did_automatic_clear"), name);
    else if (act) this.#send({ fact: "view_taken", by: "automatic", view: act.take.view, params: act.take.params }, say("desk.did_automatic_take"), name);
    return proposals;
  }

  /**
   * Send a fact of the show now or not at all.
   *
   * @param {Json & {fact: string}} fields
   * @param {string} words
   * @param {string} [name] of the output
   */
  #send(fields, words, name = this.state.output) {
    const { frames, show, sender } = this.state;
    const frame = frames[floorAt(this.state, name)];
    const heat = frame?.heat.id ?? Object.keys(show?.heats ?? {})[0] ?? "";
    const at_ms = Math.round(clockMs({ ...this.state, frame }, this.#instant) ?? 0);
    const unix_ms = Math.round(this.#instant.serverMs);
    const sent = sender.send({ id: this.#id(), heat, at_ms, output: name, unix_ms, ...fields }, words);
    if (!sent) this.#unsent(words);
    return sent;
  }

  /** @param {string | undefined} words */
  #unsent(words) {
    if (words) this.#say(say("desk.not_sent", { what: words }));
  }

  /** @param {Sent["message"]} message */
  #post(message) {
    if (this.state.link.up) this.effects.push({ do: "send", message });
    return this.state.link.up;
  }

  /** @param {{automatic?: import("./state.js").Mode, delay_ms?: number}} asked */
  #ask(asked) {
    this.#side().asked = { ...asked, until: this.#instant.nowMs + ANSWER_MS };
  }

  /** @param {(hand: import("./lines.js").Hand, output: OutputData) => void} change */
  #withHand(change) {
    const now = outputOf(this.state);
    if (now) change(this.#side().hand, now);
  }

  /** @param {string} [name] of the output */
  #side(name = this.state.output) {
    const known = this.state.sides[name] ?? copySide(sideOf(this.state, name));
    if (!this.state.sides[name]) this.#change({ sides: { ...this.state.sides, [name]: known } });
    return known;
  }

  /** @param {OutputData | undefined} output */
  #isOurs(output) {
    return output?.automatic_by?.startsWith(`desk-${this.state.tab}-`) ?? false;
  }

  #id() {
    this.#made += 1;
    return this.#made === 1 ? `desk.${this.#instant.id}` : `desk.${this.#instant.id}.${this.#made}`;
  }

  /** @param {string} text */
  #say(text) {
    this.#change({ message: { text, until: this.#instant.nowMs + MESSAGE_MS } });
  }

  /** @param {Partial<DeskState>} more */
  #change(more) {
    this.state = { ...this.state, ...more };
  }
}
