/** The two sheets over the pad: what to look up, and the question before an athlete is withdrawn. */

import { part, setText } from "../shared/dom.js";
import { isolate } from "../shared/format.js";
import { say } from "../shared/say.js";

/**
 * @typedef {object} Sheets
 * @property {() => Record<"lane" | "name" | "sender" | "waiting" | "clock" | "reload" | "screen", string>} facts
 * @property {() => boolean} mayWithdraw
 * @property {() => boolean} mayPractise nobody is counted now
 * @property {() => void} swapHands
 * @property {(reason: string) => void} withdraw
 *
 * @param {ParentNode} root
 * @param {Sheets} sheets
 */
export function openSheets(root, { facts, mayWithdraw, mayPractise, swapHands, withdraw }) {
  const sheet = dialog(root, "sheet");
  const confirm = dialog(root, "confirm");
  const yes = /** @type {const} */ ({ "confirm-yes": "", "confirm-injury": say("crew.injury") });

  onClick(root, "more", () => {
    const { lane, ...found } = facts();
    setText(part(root, "sheet-lane"), say("pad.lane_of", { lane }));
    for (const [name, text] of Object.entries(found)) setText(part(root, `sheet-${name}`), text);
    part(root, "withdraw").toggleAttribute("disabled", !mayWithdraw());
    part(root, "practise").toggleAttribute("hidden", !mayPractise());
    sheet.showModal();
  });
  onClick(root, "sheet-close", () => sheet.close());
  onClick(root, "hand", () => {
    swapHands();
    sheet.close();
  });
  onClick(root, "withdraw", () => {
    sheet.close();
    const { name, lane } = facts();
    setText(part(root, "confirm-title"), say("pad.stops", { name: isolate(name) }));
    setText(part(root, "confirm-note"), say("pad.stops_note", { lane }));
    confirm.showModal();
  });
  onClick(root, "confirm-no", () => confirm.close());
  for (const [name, reason] of Object.entries(yes)) {
    onClick(root, name, () => {
      confirm.close();
      withdraw(reason);
    });
  }
}

/**
 * @param {ParentNode} root
 * @param {string} name
 * @param {() => void} act
 */
function onClick(root, name, act) {
  part(root, name).addEventListener("click", act);
}

/**
 * @param {ParentNode} root
 * @param {string} name
 * @returns {HTMLDialogElement}
 */
function dialog(root, name) {
  return /** @type {HTMLDialogElement} */ (part(root, name));
}
