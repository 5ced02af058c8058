/**
 * One picture: a view with what it shows, on a stage of its own with the marks that no view may leave out. It is made
 * and drawn unseen, and shown when it is whole.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("./air.js").View} View
 */

import { createCalm } from "../shared/calm.js";
import { heatClockMs } from "../shared/clock.js";
import { part, setAttr, setText, stamp } from "../shared/dom.js";
import { FLOOR } from "../shared/floor.js";
import { markText } from "./life.js";
import { OffAir } from "./offair.js";
import { createPick } from "./who.js";

/** How long, beyond the delay, a picture may wait for something to show; after that it goes on the air empty. */
const PATIENCE_MS = 3000;

export class Layer {
  #stops = /** @type {(() => void)[]} */ ([]);
  #offAir = new OffAir();
  /** @type {{frame: HeatFrame, madeMs: number} | undefined} as heard, with every lane */
  #heard;
  /** @type {HeatFrame | undefined} as drawn */
  #drawn;
  #picture;
  #take;
  #whole = () => {};
  #promised = false;
  #patient;
  stage;

  /**
   * @param {HTMLElement} parent
   * @param {View} view
   * @param {Item} item
   * @param {import("./feed.js").Feed} feed
   * @param {boolean} patient wait a while for something to show before going on empty
   */
  constructor(parent, view, item, feed, patient) {
    this.#patient = patient;
    const heat = item.params.heat ?? FLOOR;
    const pick = createPick(item.params.who ?? view.who ?? "leader", undefined, () => this.table);
    this.stage = stamp(document, "stage-template");
    setAttr(this.stage, "data-view", item.view);
    setAttr(part(this.stage, "unofficial"), "hidden", view.official);
    parent.append(this.stage);
    this.#picture = view.create(part(this.stage, "view"), pick, item.params);
    this.#take = createCalm((frame) => this.#draw(frame));
    /** @type {import("./who.js").Table} */
    this.table = undefined;
    /** Resolves when there is a whole picture to show, or nothing came in time. */
    this.whole = new Promise((/** @type {(value?: unknown) => void} */ done) => (this.#whole = done));
    const patience = setTimeout(() => this.#whole(), feed.delayMs + PATIENCE_MS);
    this.#stops.push(
      () => clearTimeout(patience),
      feed.watch("subjects", heat, (frame) => void (this.table = frame.subjects)),
      feed.watchLive("subjects", heat, (frame, madeMs) => this.#hold(() => this.#offAir.take(frame.held ?? [], madeMs))),
      feed.watchLive("show", FLOOR, (frame, madeMs) => this.#hold(() => this.#offAir.takeEntries(frame.held ?? [], madeMs))),
      feed.watch(view.watch, heat, (frame, madeMs) => this.#hear(frame, madeMs)),
      feed.onTick((shownMs) => this.#tick(shownMs)),
    );
  }

  /** Draw again, because the picture has another size. */
  redraw() {
    if (this.#drawn) this.#draw(this.#drawn);
  }

  /** Show the picture, slowly unless it is the first and only one. @param {boolean} [atOnce] */
  show(atOnce = false) {
    if (atOnce) setAttr(this.stage, "data-at-once", true);
    setAttr(this.stage, "data-cleared", false);
  }

  /** Fade the picture out. */
  hide() {
    setAttr(this.stage, "data-at-once", false);
    setAttr(this.stage, "data-cleared", true);
  }

  /** Fade the picture out and remove it. */
  async leave() {
    for (const stop of this.#stops) stop();
    this.hide();
    await Promise.allSettled(this.stage.getAnimations().map((each) => each.finished));
    this.stage.remove();
  }

  /**
   * @param {HeatFrame} frame
   * @param {number} madeMs
   */
  #hear(frame, madeMs) {
    this.#heard = { frame, madeMs };
    this.#take(this.#offAir.strip(frame, madeMs));
  }

  /**
   * Take note of the lanes on hold, and draw what was heard last anew.
   *
   * @param {() => void} note
   */
  #hold(note) {
    note();
    if (this.#heard) this.#hear(this.#heard.frame, this.#heard.madeMs);
  }

  /** @param {HeatFrame} frame */
  #draw(frame) {
    this.#drawn = frame;
    setText(part(this.stage, "unofficial"), markText(frame));
    setAttr(part(this.stage, "rehearsal"), "hidden", frame.mode !== "rehearsal");
    const shows = this.#picture.draw(frame) !== false;
    setAttr(this.stage, "data-empty", !shows);
    if (this.#promised || !(shows || !this.#patient)) return;
    this.#promised = true;
    // The picture is whole once the browser has laid it out and would paint it.
    requestAnimationFrame(() => requestAnimationFrame(() => this.#whole()));
  }

  /** @param {number} shownMs */
  #tick(shownMs) {
    const frame = this.#drawn;
    if (frame) this.#picture.tick(heatClockMs(frame.clock, frame.speed ?? 1, shownMs), frame);
  }
}
