// Dialogs: a form, what the box said to it, and the way back.  The strip with verdict and weight stays above them.

import { el, lowerToast, raiseToast, toast } from "./dom.js";

let made = 0;

// Opens a dialog; `closed` is called when it has gone.
export function open(dialog, closed) {
  if (!dialog.isConnected) document.body.append(dialog);
  document.documentElement.classList.add("talking");
  dialog.onclose = () => {
    lowerToast();
    if (dialog.classList.contains("made")) dialog.remove();
    document.documentElement.classList.toggle("talking", !!document.querySelector("dialog[open]"));
    raiseToast();
    closed?.();
  };
  if (!dialog.open) dialog.showModal();
}

// Shows a form in a dialog of its own until it was sent or left; one may open above another (the code above a note).
// `send` takes what was typed and gives what the box said, or null to let the person go on.  Gives whether it was done.
export function talk({ title, about, fields, yes = "Send", no = "Back", stern = false, send: deliver }) {
  const name = `talk${++made}`;
  const said = el("p", { role: "status", class: "said" });
  const go = yes && el("button", { type: "submit", class: stern ? "stern" : "main" }, yes);
  const back = el("button", { type: "button", class: "back", onclick: () => dialog.close() }, no);
  const form = el("form", { method: "dialog" },
    el("h2", { id: name }, title), about && el("p", { class: "about" }, about), fields, said, el("div", { class: "acts" }, back, go));
  const dialog = el("dialog", { "aria-labelledby": name, class: "made" }, form);
  return new Promise((resolve) => {
    let done = false;
    form.onsubmit = async (event) => {
      event.preventDefault();
      if (go) go.disabled = true;
      said.textContent = "Sending…";
      const answer = await deliver(new FormData(form, event.submitter));
      if (go) go.disabled = false;
      said.textContent = answer?.done === false ? answer.text : "";
      if (!answer?.done) return;
      if (!answer.told) toast(answer.text);
      done = true;
      dialog.close();
    };
    open(dialog, () => resolve(done));
    if (!form.querySelector(".touch")) form.querySelector("input:not([type=radio], [type=checkbox]), textarea")?.focus(); // beside ready words the keyboard waits until it is wanted
  });
}
