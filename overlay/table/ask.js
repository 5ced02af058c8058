/** The one dialog of the table: a question, its fields, and nothing done until it is answered. */

import { part, setAttr, setText, stamp } from "../shared/dom.js";
import { say } from "../shared/say.js";
import { readFields } from "./actions.js";

/**
 * @typedef {import("./actions.js").Action} Action
 * @typedef {import("./actions.js").Context} Context
 * @typedef {import("./actions.js").Values} Values
 */

/**
 * Ask, and call `answered` with the values if the question is answered with yes.
 *
 * @param {ParentNode} root
 * @param {Action} action
 * @param {Context} context
 * @param {(values: Values) => void} answered
 */
export function ask(root, action, context, answered) {
  const dialog = /** @type {HTMLDialogElement} */ (part(root, "ask"));
  const form = /** @type {HTMLFormElement} */ (part(dialog, "ask-form"));
  setText(part(dialog, "ask-title"), action.title(context));
  setText(part(dialog, "ask-note"), action.note ?? "");
  setText(part(dialog, "ask-yes"), action.yes);
  setText(part(dialog, "ask-problem"), "");
  const inputs = action.fields.map((field) => makeField(root, field, context));
  part(dialog, "ask-fields").replaceChildren(...inputs.map(({ field }) => field));
  form.onsubmit = (event) => {
    event.preventDefault();
    const texts = Object.fromEntries(inputs.map(({ name, input }) => [name, input.value]));
    const read = readFields(action, texts);
    if ("values" in read) {
      dialog.close();
      answered(read.values);
      return;
    }
    setText(part(dialog, "ask-problem"), read.problem);
    for (const { name, input } of inputs) setAttr(input, "aria-invalid", name === read.field ? "true" : undefined);
    inputs.find(({ name }) => name === read.field)?.input.focus();
  };
  part(dialog, "ask-no").onclick = () => dialog.close();
  dialog.showModal();
  (inputs[0]?.input ?? part(dialog, "ask-no")).focus();
  inputs[0]?.input.select();
}

/**
 * @param {ParentNode} root
 * @param {import("./actions.js").Field} field
 * @param {Context} context
 */
function makeField(root, field, context) {
  const made = stamp(root, "field-template");
  const input = /** @type {HTMLInputElement} */ (part(made, "field-input"));
  setText(part(made, "field-label"), field.optional ? say("table.may_stay_empty", { label: field.label }) : field.label);
  input.name = field.name;
  input.inputMode = field.kind === "number" ? "numeric" : "text";
  input.value = field.start?.(context) ?? "";
  const offers = part(made, "field-offers");
  for (const offer of field.offers ?? []) offers.append(makeOffer(offer, input));
  return { field: made, name: field.name, input };
}

/**
 * @param {string} offer
 * @param {HTMLInputElement} input
 */
function makeOffer(offer, input) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "offer";
  button.textContent = offer;
  button.addEventListener("click", () => {
    input.value = offer;
    input.focus();
  });
  return button;
}
