/**
 * A page for a commentator: the lanes of a heat in one table, best first, under a head with the clock. It is worked by
 * keys or by a finger: one lane can be followed, and the colours can be changed. The gap feed and the call are such
 * pages; each says what its cells say and draws what it has beside the table.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

/**
 * What a page has of its own.
 *
 * @template {HeatFrame} Frame
 * @typedef {object} Own
 * @property {string} view the view it watches
 * @property {import("./rows.js").RowWords<Frame>} words
 * @property {(frame: Frame) => string} progress where the leader is while the heat runs
 * @property {(frame: Frame) => void} draw what lies around the table
 * @property {(frame: Frame, beforeMs: number) => void} [tick] before every picture the browser paints; `beforeMs` is what the
 *   clock showed at the last one
 * @property {Partial<Record<string, () => void>>} [keys] what keys of its own do
 * @property {(lane: number) => void} [choose] somebody tapped on the row of a lane
 */

import { createCalm } from "../shared/calm.js";
import { part, setAttr, setText, setVar } from "../shared/dom.js";
import { fitName, refitAll } from "../shared/fit.js";
import { clockText } from "../shared/format.js";
import { watchLive } from "../shared/live.js";
import { say } from "../shared/say.js";
import { groups, hasLongFigures, hasLongNames, limitText } from "../shared/standing.js";
import { linkText, lostText } from "./behind.js";
import { drawRows } from "./rows.js";
import { openTheme, toggleTheme } from "./theme.js";

/** @template {HeatFrame} Frame */
export class CommentaryPage {
  /** The lane that is followed. @type {number | undefined} */
  followed;
  /** What the heat clock shows. */
  clockMs = 0;
  /** @type {Frame | undefined} */
  #shown;
  /** @type {Date | undefined} */
  #heardAt;
  /** How old the numbers are although the link is up. @type {number | undefined} */
  #oldMs;
  #up = false;
  /** The typeface is there, by which names are measured. */
  #lettered = false;
  #desk = part(document, "desk");
  #table = /** @type {HTMLTableElement} */ (part(document, "sheet").querySelector("table"));
  #own;

  /** @param {Own<Frame>} own */
  constructor(own) {
    this.#own = own;
  }

  /** Put on the colours, listen to keys and fingers, and watch the heat. */
  async open() {
    openTheme();
    this.#listen();
    this.#watch();
    await document.fonts.load("600 19px Asap", "Aā0");
    this.#lettered = true;
    setAttr(this.#desk, "data-waits", "picture");
    this.#draw();
  }

  /** Draw again what is shown, with every name measured anew. */
  redraw() {
    refitAll();
    this.#draw();
    this.#table.querySelector("[data-followed]")?.scrollIntoView({ block: "nearest" });
  }

  /** @param {1 | -1} step down or up the order */
  follow(step) {
    if (!this.#shown) return;
    const order = groups(this.#shown).flatMap((group) => group.lanes.map((lane) => lane.lane));
    const at = this.followed === undefined ? (step > 0 ? -1 : order.length) : order.indexOf(this.followed);
    this.followed = order[Math.min(order.length - 1, Math.max(0, at + step))];
  }

  #watch() {
    const take = createCalm((frame) => {
      this.#shown = /** @type {Frame} */ (frame);
      this.#draw();
    });
    watchLive(this.#own.view, {
      frame: (frame) => {
        this.#heardAt = new Date();
        this.#oldMs = frame.old_ms;
        this.#drawLink();
        take(frame);
      },
      tick: (now, frame) => this.#tick(now ?? 0, frame),
      link: ({ up }) => {
        this.#up = up;
        this.#drawLink();
      },
    });
  }

  /**
   * @param {number} now
   * @param {HeatFrame} frame
   */
  #tick(now, frame) {
    const before = this.clockMs;
    this.clockMs = now;
    setText(part(this.#desk, "clock"), clockText(now));
    setText(part(this.#desk, "limit"), ` ${limitText(frame)}`);
    if (this.#shown && this.#lettered) this.#own.tick?.(this.#shown, before);
  }

  #drawLink() {
    setAttr(part(this.#desk, "link"), "data-down", !this.#up || this.#oldMs !== undefined);
    setText(part(this.#desk, "link"), this.#up ? linkText(this.#oldMs) : lostText(this.#heardAt));
  }

  #draw() {
    const frame = this.#shown;
    if (!frame || !this.#lettered) return;
    const divisions = groups(frame).length;
    this.#drawHead(frame);
    setAttr(this.#desk, "data-long", hasLongFigures(frame));
    setAttr(this.#desk, "data-long-names", hasLongNames(frame));
    setAttr(this.#table, "hidden", divisions === 0);
    setAttr(part(this.#desk, "empty"), "hidden", divisions > 0);
    setText(part(this.#desk, "empty"), say("shared.empty_heat"));
    setVar(this.#desk, "--rows", String(Object.keys(frame.lanes).length + (divisions > 1 ? divisions : 0)));
    this.#own.draw(frame);
    drawRows(this.#table, frame, this.#own.words, this.followed);
    setAttr(this.#desk, "data-waits", false);
  }

  /** @param {Frame} frame */
  #drawHead(frame) {
    const short = [frame.heat.floor?.name, frame.heat.name].filter(Boolean).join(" · ");
    const heat = [frame.competition.name, short].filter(Boolean).join(" · ");
    const words = { waiting: say("shared.waiting_start"), over: say("shared.heat_over"), running: this.#own.progress(frame) };
    fitName(part(this.#desk, "event"), frame.event.name, frame.event.name);
    fitName(part(this.#desk, "heat"), heat, short);
    setAttr(part(this.#desk, "rehearsal"), "hidden", frame.mode !== "rehearsal");
    setText(part(this.#desk, "leader"), words[frame.heat.status]);
  }

  #listen() {
    addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key === "Enter" && event.target instanceof HTMLButtonElement) return; // that presses the button
      if (this.#act(event.key)) event.preventDefault();
    });
    this.#desk.addEventListener("click", ({ target }) => {
      const button = target instanceof Element ? target.closest("[data-key]") : undefined;
      const row = target instanceof Element ? target.closest("[data-lane]") : undefined;
      if (button instanceof HTMLElement) this.#act(button.dataset.key ?? "");
      else if (row instanceof HTMLElement) this.#choose(Number(row.dataset.lane));
    });
    addEventListener("resize", () => this.redraw());
  }

  /**
   * @param {string} key
   * @returns {boolean} whether the key means anything here
   */
  #act(key) {
    const act = this.#own.keys?.[key] ?? this.#keys[key];
    act?.();
    if (act) this.redraw();
    return act !== undefined;
  }

  /** What keys do on every such page. @type {Partial<Record<string, () => void>>} */
  #keys = {
    d: toggleTheme,
    ArrowDown: () => this.follow(1),
    j: () => this.follow(1),
    ArrowUp: () => this.follow(-1),
    k: () => this.follow(-1),
    Escape: () => void (this.followed = undefined),
  };

  /** @param {number} lane */
  #choose(lane) {
    if (!this.#own.choose) return;
    this.#own.choose(lane);
    this.redraw();
  }
}
