// @ts-check
// One dialog for everything that must be asked: a few fields, Enter notes, Escape leaves.
import { made, tell } from "./rows.js";

/** @typedef {{name: string, label: string, value: string, kind?: string, most?: number, choices?: [string, string][]}} Field */

/** @param {string} head @param {string} words @param {Field[]} fields @param {string} yes
 * @returns {Promise<Record<string, string> | null>} what was filled in, null when left */
export function ask(head, words, fields, yes) {
  const box = /** @type {HTMLDialogElement} */ (document.getElementById("ask"));
  const opener = /** @type {HTMLElement | null} */ (document.activeElement);
  tell(document.getElementById("ask-head"), head);
  tell(document.getElementById("ask-words"), words);
  tell(document.getElementById("ask-yes"), yes);
  const inputs = fields.map((field) => {
    const input = /** @type {HTMLInputElement | HTMLSelectElement} */ (made(field.choices ? "select" : "input", ""));
    for (const [value, text] of field.choices || []) {
      const choice = /** @type {HTMLOptionElement} */ (made("option", text));
      choice.value = value;
      input.append(choice);
    }
    input.id = `ask-${field.name}`;
    if (input instanceof HTMLInputElement) {
      input.type = field.kind || "text";
      input.maxLength = field.most || 60;
      input.autocomplete = "off";
    }
    input.value = field.value;
    return input;
  });
  const place = /** @type {HTMLElement} */ (document.getElementById("ask-fields"));
  place.replaceChildren(...fields.flatMap((field, k) => {
    const label = made("label", field.label);
    label.setAttribute("for", `ask-${field.name}`);
    return [label, inputs[k]];
  }));
  box.returnValue = "";
  box.showModal();
  if (inputs[0]) inputs[0].focus();
  return new Promise((done) => {
    box.addEventListener("close", () => {
      if (opener && opener.isConnected) opener.focus();
      done(box.returnValue === "yes" ? Object.fromEntries(fields.map((field, k) => [field.name, inputs[k].value])) : null);
    }, { once: true });
  });
}
