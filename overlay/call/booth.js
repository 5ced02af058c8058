/**
 * What the booth has beside the call: the spotters' notes, and what the competition file tells of an athlete. A
 * commentator pins and dismisses for all of them.
 *
 * @typedef {import("../booth/types.js").BoothLane} BoothLane
 * @typedef {import("../booth/types.js").Mark} Mark
 * @typedef {import("../booth/types.js").Note} Note
 * @typedef {import("../booth/types.js").Told} Told
 * @typedef {(item: string, mark: Mark, lane: number | undefined) => void} SetMark
 */

import { noteSource, notesDismissed, notesToRead, noteTime } from "../booth/notes.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { say } from "../shared/say.js";

/**
 * @param {ParentNode} desk
 * @param {import("../booth/link.js").BoothLink} booth
 * @param {{followed: number | undefined, mark: SetMark}} more
 */
export function drawBooth(desk, booth, { followed, mark }) {
  setAttr(part(desk, "booth"), "hidden", false);
  setText(part(desk, "booth-link"), booth.barred || booth.refused || stateText(booth));
  const { frame } = booth;
  if (!frame) return;
  const notes = notesToRead(frame);
  const lines = new Map(notes.map((note) => [note.item, note]));
  keyedChildren(part(desk, "notes"), [...lines.keys()], () => stamp(document, "note-template"), (line, item) => {
    const note = /** @type {Note} */ (lines.get(item));
    setAttr(line, "data-followed", note.lane !== undefined && note.lane === followed);
    setText(part(line, "at"), noteTime(note));
    setText(part(line, "source"), noteSource(note, frame));
    drawMarked(line, note, (wanted) => mark(item, wanted, note.lane));
  });
  setAttr(part(desk, "no-notes"), "hidden", notes.length > 0);
  drawDismissed(desk, notesDismissed(frame), mark);
}

/** @param {import("../booth/link.js").BoothLink} booth */
function stateText({ up, outbox }) {
  if (!up) return outbox.count ? say("call.no_link_waits") : say("call.no_link");
  return "";
}

/**
 * @param {ParentNode} desk
 * @param {Note[]} notes
 * @param {SetMark} mark
 */
function drawDismissed(desk, notes, mark) {
  const button = part(desk, "put-back");
  const [newest] = notes;
  setAttr(button, "hidden", !newest);
  setText(button, newest ? say("call.put_back_note", { text: newest.text }) : "");
  button.onclick = () => newest && mark(newest.item, "open", newest.lane);
}

/**
 * What the file tells of the athlete whose facts are open.
 *
 * @param {ParentNode} desk
 * @param {BoothLane | undefined} lane
 * @param {SetMark} mark
 */
export function drawTold(desk, lane, mark) {
  setAttr(part(desk, "do-not"), "hidden", !lane?.caution);
  setText(part(desk, "do-not"), lane?.caution ? say("call.do_not", { caution: lane.caution }) : "");
  const facts = new Map((lane?.facts ?? []).map((told) => [told.item, told]));
  keyedChildren(part(desk, "told"), [...facts.keys()], () => stamp(document, "told-template"), (line, item) => {
    const told = /** @type {Told} */ (facts.get(item));
    setAttr(line, "data-told", told.mark === "dismissed");
    drawMarked(line, told, (wanted) => mark(item, wanted, lane?.lane));
  });
}

/**
 * @param {HTMLElement} line
 * @param {Told} told
 * @param {(mark: Mark) => void} mark
 */
function drawMarked(line, { text, mark: now }, mark) {
  const [pinned, dismissed] = [now === "pinned", now === "dismissed"];
  setAttr(line, "data-pinned", pinned);
  setText(part(line, "text"), text);
  const [pin, dismiss] = [part(line, "pin"), part(line, "dismiss")];
  setText(pin, pinned ? say("call.unpin") : say("call.pin"));
  setText(dismiss, dismissed ? say("call.put_back") : say("call.dismiss"));
  setAttr(pin, "hidden", dismissed);
  pin.onclick = () => mark(pinned ? "open" : "pinned");
  dismiss.onclick = () => mark(dismissed ? "open" : "dismissed");
}
