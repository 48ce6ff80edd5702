// Asking the box for something: a small form, the access code when it is needed, and what the box said.

import { el, kept, toast } from "./dom.js";

async function post(path, body) {
  let answer;
  try {
    answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Neckyoke-Code": kept.get("code", "") },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(10000),
    });
  } catch {
    return { done: false, lost: true, text: "No answer came. It may be done all the same; send it again: it is done only once." };
  }
  const said = await answer.json().catch(() => ({ text: `The box said ${answer.status}.` }));
  return { done: false, ...said, code: answer.status === 401 };
}

const once = () => Math.random().toString(36).slice(2, 12);
const unanswered = new Map(); // what was sent and not answered, by its text, to the id it had

// Sends a request; asks for the code first when the box wants it.  Gives what the box said, or null when left.
export async function send(request) {
  const text = JSON.stringify(request);
  const body = { id: unanswered.get(text) ?? once(), ...request }; // sent twice, it is done once
  for (;;) {
    const said = await post("requests", body);
    if (said.lost) unanswered.set(text, body.id);
    else unanswered.delete(text);
    if (!said.code) return said;
    if (!(await unlock(said.text))) return null;
  }
}

export async function unlock(why = "Changing anything needs the access code, nine digits.") {
  const field = el("input", {
    id: "code", name: "code", inputmode: "numeric", autocomplete: "off", maxlength: 15, required: true,
    pattern: "[0-9 .\\-]{9,15}", title: "nine digits",
  });
  return talk({
    title: "Access code",
    about: `${why} On the box: neckyoke page code`,
    fields: [el("label", {}, "Code", field)],
    yes: "Unlock",
    send: async (form) => {
      kept.set("code", form.get("code"));
      const said = await post("code", {});
      if (!said.done) kept.set("code", "");
      return said;
    },
  });
}

let made = 0;

// Shows a form in a dialog of its own until it was sent or left; one may open above another (the code above a note).
// `send` takes what was typed and gives what the box said, or null to let the person go on.  Gives whether it was done.
export function talk({ title, about, fields, yes = "Send", stern = false, send: deliver }) {
  const name = `talk${++made}`;
  const said = el("p", { role: "status", class: "said" });
  const go = yes && el("button", { type: "submit", class: stern ? "stern" : "main" }, yes);
  const back = el("button", { type: "button", onclick: () => dialog.close() }, "Back");
  const form = el("form", { method: "dialog" },
    el("h2", { id: name }, title), el("p", { class: "about" }, about), fields, said, el("div", { class: "acts" }, back, go));
  const dialog = el("dialog", { "aria-labelledby": name }, form);
  document.body.append(dialog);
  return new Promise((resolve) => {
    let done = false;
    form.onsubmit = async (event) => {
      event.preventDefault();
      go.disabled = true;
      said.textContent = "Sending…";
      const answer = await deliver(new FormData(form, event.submitter));
      go.disabled = false;
      said.textContent = answer?.done === false ? answer.text : "";
      if (!answer?.done) return;
      toast(answer.text);
      done = true;
      dialog.close();
    };
    dialog.onclose = () => { dialog.remove(); resolve(done); };
    dialog.showModal();
    form.querySelector("input, textarea")?.focus();
  });
}

// One of several, by touch.
export function choice(name, legend, values) {
  return el("fieldset", {}, el("legend", {}, legend), values.map((value, at) =>
    el("label", { class: "pick" }, el("input", { type: "radio", name, value, required: true, checked: at === 0 && values.length === 1 }), value)));
}
