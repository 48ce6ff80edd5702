// The sheets at hand: listed by title, mob and when they were last used; one of them looked at, begun with, changed.

import { el, toast } from "../../../dom.js";
import { send } from "../../../ask.js";
import { day } from "../../../words.js";
import { table, yard } from "../../../yard.js";
import { begin, takeUp, draft } from "./draft.js";
import { foreseen, sentences } from "./told.js";

let listed = { sheets: [], offered: {} };
export const offered = () => ({ treatments: [], findings: [], mobs: [], ...listed.offered });

// Asks for the list; gives it, or null when the code was not given.
export async function list() {
  const answer = await send({ kind: "sheets" });
  if (!answer) return null;
  if (!answer.done) toast(answer.text);
  listed = answer.sheet ?? listed;
  return listed;
}

const used = (one) => (one.used ? `last used ${day(one.used)}` : "not used yet");
const link = (file) => `#job/sheet/${encodeURIComponent(file)}`;

export function sheetRows({ sheets }) {
  if (!sheets.length) return el("p", {}, "No sheet yet. A job without one has weights and tags only.");
  return el("ul", { class: "rows sheets" }, sheets.map((one) => el("li", {},
    el("a", { class: "row", href: link(one.file) },
      el("b", {}, one.title),
      el("span", {}, [one.mob !== one.title && one.mob, one.treatments.join(", ") || "no treatments"].filter(Boolean).join(" · ")),
      el("span", { class: "quiet" }, used(one)),
      one.problem ? el("span", { class: "flag" }, "not good to use") : ""))));
}

export function newSheet() {
  begin({ title: "" });
  location.hash = "#job/edit";
}

export const makeButtons = () => [
  el("button", { type: "button", onclick: newSheet }, "New sheet"),
  takeUp() ? el("a", { class: "button", href: "#job/edit" }, "Go on with ", draft.form.title || "the sheet begun") : "",
];

let turn = 0;

export async function drawSheets(place) {
  const mine = ++turn;
  const rows = place.querySelector(".sheetrows") ?? el("div", { class: "sheetrows" }, el("p", {}, "Looking for the sheets."));
  place.replaceChildren(el("h2", {}, "Sheets"), el("div", { class: "acts" }, makeButtons()), rows); // the rows come late: they move no button
  const found = await list();
  if (mine !== turn || !place.isConnected) return;
  rows.replaceChildren(found ? sheetRows(found) : el("p", {}, "The sheets want the access code."));
}

// -- one sheet -----------------------------------------------------------------------------------------------------

export async function drawSheet(place, file) {
  place.replaceChildren(el("p", {}, "Looking for the sheet."));
  const answer = await send({ kind: "sheet-open", file });
  if (!answer) return place.replaceChildren(el("p", {}, "The sheet wants the access code."));
  if (!answer.done) return place.replaceChildren(sentences(answer.sheet?.problems ?? [{ text: answer.text }]), el("a", { class: "button", href: "#job" }, "Back to the job"));
  const { form, digest, problems, doubts, animals } = answer.sheet;
  const good = !problems.length;
  const would = el("div", {});
  const open = table().job;
  const button = (text, act, kind) => el("button", { type: "button", class: kind ?? "", onclick: act }, text);
  const ask = async (request) => {
    const said = await send({ station: yard.station, ...request });
    if (!said) return;
    if (!said.told) toast(said.text);
    if (said.done) location.hash = request.kind === "sheet-drop" ? "#job/sheets" : "#job";
  };
  place.replaceChildren(
    el("h2", {}, form.title ?? file),
    el("p", {}, [form.mob, animals != null && `${animals} on the roster`, form.leaving && `leaving, for ${form.leaving}`].filter(Boolean).join(" · ")),
    problems.length ? sentences(problems) : "", doubts.length ? sentences(doubts) : "",
    el("div", { class: "acts" },
      good ? button("Begin", () => ask({ kind: "begin", file }), "main wide") : "",
      good && open ? button("Use it from the next animal on", () => ask({ kind: "sheet", file }), "wide") : "",
      button("Change", () => { begin(form, { file, was: digest }); location.hash = "#job/edit"; }),
      button("Copy", () => { begin({ ...form, title: `${form.title} (copy)` }, { copy: file }); draft.changed = true; location.hash = "#job/edit"; }),
      file.startsWith("sheets/") ? button("Off the list", () => ask({ kind: "sheet-drop", file, was: digest }), "stern") : "",
      el("a", { class: "button", href: open ? "#job/sheets" : "#job" }, "Back")),
    open && good ? el("p", { class: "quiet" }, `Begin ends ${open.text}.`) : "",
    would);
  if (!good) return;
  const tried = await send({ kind: "sheet-try", file, was: digest, form });
  if (tried?.done && would.isConnected) would.replaceChildren(el("h3", {}, "What it would do"), ...foreseen(tried.sheet));
}
