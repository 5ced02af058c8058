/** Writes what the pad shows to the page, only what changed. */

import { keyedChildren, part, setAttr, setText, setVar, stamp } from "../shared/dom.js";
import { onPress } from "./press.js";

const RING_MS = 200;

export class Screen {
  #root;
  #pad;
  #touch;
  /** Takes the ring away again. @type {ReturnType<typeof setTimeout> | undefined} */
  #ringEnds;
  #choices;
  /** @type {(choice: string) => void} */
  #choose = () => {};
  #onMember;

  /**
   * @param {ParentNode} root
   * @param {{member: (id: string, key: HTMLElement) => void}} made called for every key of a team
   */
  constructor(root, { member }) {
    this.#root = root;
    this.#onMember = member;
    this.#pad = part(root, "pad");
    this.#touch = part(root, "touch");
    this.#choices = part(root, "choices");
    this.surface = part(root, "surface");
    this.undo = part(root, "undo");
    this.noRep = part(root, "no-rep");
    this.finish = part(root, "finish");
  }

  /**
   * @param {import("./view.js").PadView} view
   * @param {object} aside
   * @param {string} aside.message
   * @param {string[]} aside.choices
   * @param {(choice: string) => void} aside.choose
   * @param {string} aside.hand
   */
  show(view, { message, choices, choose, hand }) {
    this.#choose = choose;
    for (const name of /** @type {const} */ (["lane", "floor", "name", "heat", "station", "load", "round", "into", "next"])) {
      this.#write(name, view[name]);
    }
    this.#write("clock", view.clock);
    this.#write("next-word", view.nextWord);
    this.#write("no-rep-word", view.noRepWord);
    this.#write("undo-note", view.undo);
    this.#write("no-reps", view.noReps);
    this.#write("message", choices.length ? "" : message);
    this.#showNumber(view);
    this.#showSurface(view);
    this.#showKeys(view);
    this.#showChoices(choices);
    this.#showTeam(view.team);
    setAttr(part(this.#root, "rehearsal"), "hidden", !view.rehearsal);
    setAttr(this.#pad, "data-hand", hand);
  }

  /**
   * Show where the finger was. The ring comes and goes and does not fade: what moves has every frame drawn anew, and the
   * next touch and the server's answer wait for that.
   *
   * @param {{x: number, y: number} | undefined} point in the window; undefined: in the middle
   */
  ring(point) {
    const { left, top, width, height } = this.surface.getBoundingClientRect();
    setVar(this.#touch, "--x", `${point ? point.x - left : width / 2}px`);
    setVar(this.#touch, "--y", `${point ? point.y - top : height / 2}px`);
    setAttr(this.#touch, "data-on", true);
    clearTimeout(this.#ringEnds);
    this.#ringEnds = setTimeout(() => setAttr(this.#touch, "data-on", false), RING_MS);
  }

  /** @param {import("./view.js").PadView} view */
  #showNumber({ number, proof, proofState }) {
    const shown = part(this.#root, "number");
    setText(shown, number);
    setAttr(shown, "data-digits", Math.max(2, number.length));
    const proved = part(this.#root, "proof");
    setText(proved, proof);
    setAttr(proved, "data-state", proofState);
  }

  /** @param {import("./view.js").PadView} view */
  #showSurface({ surface, ask, calm, progress }) {
    setAttr(this.surface, "data-kind", surface);
    setAttr(this.surface, "disabled", surface === "locked");
    setAttr(this.surface, "data-calm", calm);
    this.#write("ask", ask);
    setVar(part(this.#root, "meter"), "--progress", String(progress));
  }

  /** @param {import("./view.js").PadView} view */
  #showKeys({ undo, noRep, finish }) {
    setAttr(this.undo, "aria-disabled", undo ? "false" : "true");
    setAttr(this.noRep, "aria-disabled", noRep ? "false" : "true");
    setAttr(this.finish, "hidden", !finish);
  }

  /** @param {import("./view.js").TeamKey[]} team */
  #showTeam(team) {
    const room = part(this.#root, "team");
    const keys = new Map(team.map((key) => [key.id, key]));
    setAttr(room, "hidden", !team.length);
    keyedChildren(room, [...keys.keys()], (id) => this.#makeMember(id), (element, id) => {
      const { word, note, on } = /** @type {import("./view.js").TeamKey} */ (keys.get(id));
      setText(part(element, "member-word"), word);
      setText(part(element, "member-note"), note);
      setAttr(element, "aria-pressed", on ? "true" : "false");
    });
  }

  /** @param {string} id */
  #makeMember(id) {
    const made = stamp(this.#root, "member-template");
    made.dataset.member = id;
    this.#onMember(id, made);
    return made;
  }

  /** @param {string[]} choices */
  #showChoices(choices) {
    setAttr(this.#choices, "hidden", !choices.length);
    keyedChildren(this.#choices, choices, (choice) => this.#makeChoice(choice), setText);
  }

  /** @param {string} choice */
  #makeChoice(choice) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "choice";
    made.dataset.part = "choice";
    onPress(made, { begin: () => choice, holdMs: () => 0, done: () => this.#choose(choice) });
    return made;
  }

  /**
   * @param {string} name
   * @param {string} text
   */
  #write(name, text) {
    setText(part(this.#root, name), text);
  }
}
