// Asking the box: what is read, what is changed and taken back, and the access code that both want.

import { el, kept, toast } from "./dom.js";
import { talk } from "./talk.js";

const LOST = "No answer came. It may be done all the same; send it again: it is done only once.";

const BULKY_MS = 60000; // a roster over the yard's radio

const PATIENCE_S = 3; // what the box asks to wait for before the next request is waited for, up to here

async function fetched(path, options = {}) {
  for (let tries = 1; ; tries += 1) {
    const answer = await fetch(path, {
      cache: "no-store", signal: AbortSignal.timeout(10000), ...options,
      headers: { ...options.headers, "X-Neckyoke-Code": kept.get("code", "") },
    });
    const wait = Number(answer.headers.get("retry-after") ?? Infinity);
    if (answer.status !== 429 || wait > PATIENCE_S || tries === 3) return answer;
    await new Promise((over) => setTimeout(over, 1000 * wait));
  }
}

async function post(path, body) {
  let answer;
  try {
    const signal = AbortSignal.timeout(body.roster ? BULKY_MS : 10000);
    answer = await fetched(path, { signal, method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  } catch {
    return { done: false, lost: true, text: LOST };
  }
  const said = await answer.json().catch(() => ({ text: `The box said ${answer.status}.` }));
  return { done: false, ...said, code: answer.status === 401, busy: answer.status === 429 };
}

const once = () => Math.random().toString(36).slice(2, 12);
const unanswered = new Map(); // what was sent and not answered, by its text, to the id it had

// Sends a request; asks for the code first when the box wants it.  Gives what the box said, or null when left.
// What can be taken back is offered to be, for ten seconds.
export async function send(request) {
  const text = JSON.stringify(request);
  const body = { id: unanswered.get(text) ?? once(), ...request }; // sent twice, it is done once
  for (;;) {
    const said = await post("requests", body);
    if (said.lost) unanswered.set(text, body.id);
    else unanswered.delete(text);
    if (said.code) {
      if (await unlock(said.text)) continue;
      return null;
    }
    if (said.done && said.asked && request.kind !== "undo") {
      const station = request.station;
      toast(said.text, { text: "Undo", run: () => undo(said.asked, station) });
      said.told = true;
    }
    return said.question && !said.done ? asks(said, request.station) : said;
  }
}

// The box asks back instead of guessing: one touch replies.  Gives what came of it, or what it had said when left.
async function asks(said, station) {
  let reply = null;
  const pick = (choice) => el("button", { type: "submit", name: "choice", value: choice }, choice);
  await talk({
    title: "Which is it?",
    about: said.question.text,
    fields: [el("div", { class: "touch" }, said.question.choices.map(pick))],
    yes: "",
    send: async (form) => (reply = await send({ kind: "reply", question: said.question.id, choice: form.get("choice"), ...(station && { station }) })),
  });
  return reply ?? said;
}

// Takes back what was asked.
export async function undo(asked, station) {
  const said = await send({ kind: "undo", asked, ...(station && { station }) });
  if (said) toast(said.text);
  return said;
}

// Reads JSON that wants the code.  Gives { text } with what is wrong when there is none, null when the code was not given.
export async function read(path) {
  const answer = await got(path);
  if (!answer || answer.text) return answer;
  return answer.response.json().catch(() => ({ text: "The box sent something else." }));
}

async function got(path) {
  for (;;) {
    let response;
    try {
      response = await fetched(path);
    } catch {
      return { text: "The box was not reached." };
    }
    if (response.ok) return { response };
    const said = await response.json().catch(() => ({ text: `The box said ${response.status}.` }));
    if (response.status !== 401) return { ...said, text: said.text ?? `The box said ${response.status}.` };
    if (!(await unlock(said.text))) return null;
  }
}

// Saves a file that wants the code, under the name that the box gives it.
export async function save(path) {
  const answer = await got(path);
  if (answer?.text) return toast(answer.text);
  if (!answer) return null;
  const name = /filename="([^"]+)"/.exec(answer.response.headers.get("content-disposition") ?? "")?.[1] ?? "neckyoke";
  const link = el("a", { href: URL.createObjectURL(await answer.response.blob()), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  return name;
}

let asking = null; // one question for the code at a time, however many want it

export function unlock(why) {
  asking ??= askForCode(why).finally(() => (asking = null));
  return asking;
}

function askForCode(why = "The box gives its lists and takes changes only with the access code, nine digits.") {
  const field = el("input", {
    id: "code", name: "code", inputmode: "numeric", autocomplete: "off", maxlength: 15, required: true,
    pattern: "[0-9 .\\-]{9,15}", title: "nine digits",
  });
  return talk({
    title: "Access code",
    about: `${why} On the box: neckyoke page code`,
    fields: [el("label", {}, "Code", field)],
    yes: "Unlock",
    no: "Only look",
    send: async (form) => {
      const had = kept.get("code", "");
      kept.set("code", form.get("code"));
      const said = await post("code", {});
      if (!said.done) kept.set("code", had);
      return said;
    },
  });
}

// Takes the code out of the address, where a link brought one: a link is shown, kept and sent on.  Gives it, if it is one.
function codeOfLink(instead) {
  const given = /^#code=(.*)$/.exec(location.hash)?.[1];
  if (given === undefined) return undefined;
  history.replaceState(null, "", instead);
  try {
    return /^[0-9 .-]{9,15}$/.exec(decodeURIComponent(given))?.[0] ?? null;
  } catch {
    return null; // cut off or mangled on its way
  }
}

// Tries the code of a link, which is kept at once; one that the box refuses gives way again to the one there was.
async function tried(code) {
  const had = kept.get("code", "");
  kept.set("code", code);
  const said = await post("code", {});
  const refused = said.code || said.busy; // not one that was cut off as the page was left
  if (refused && kept.get("code", "") === code) kept.set("code", had); // another may have been typed before the answer came
  return said;
}

// The code is asked for when the page is first opened, not with the animal standing there; it may come in the link.
export async function letIn() {
  const code = codeOfLink(location.pathname);
  const said = code ? await tried(code) : null;
  if (kept.get("code", "") || (!said && kept.get("looks", false))) return;
  if (!(await unlock(said?.text))) kept.set("looks", true);
}

// A link that is opened in a tab which shows the page already: the tab stays where it was, at the address `before`, and
// where the code is asked for, it is typed.  Gives whether the address was such a link.
export function takeLink(before) {
  const code = codeOfLink(before);
  const field = document.querySelector("dialog[open] #code");
  if (code && field) {
    field.value = code;
    field.form.requestSubmit();
  } else if (code) {
    tried(code).then((said) => toast(said.text));
  }
  return code !== undefined;
}

// A button that fills a field and sends its form: no submit button, or Enter in the field would press it.
export function ready(field, value, text = value, kind = "") {
  return el("button", { type: "button", class: kind, onclick: () => { field.value = value; field.form.requestSubmit(); } }, text);
}

// One of several, each a button that sends the form; in a field the key Enter means the first.
export function touches(name, legend, values) {
  return el("fieldset", {}, el("legend", {}, legend), el("div", { class: "touch" },
    values.map((value) => el("button", { type: "submit", name, value }, value))));
}

// One of several, by touch.
export function choice(name, legend, values) {
  return el("fieldset", {}, el("legend", {}, legend), values.map((value, at) =>
    el("label", { class: "pick" }, el("input", { type: "radio", name, value, required: true, checked: at === 0 && values.length === 1 }), value)));
}

export { talk };
