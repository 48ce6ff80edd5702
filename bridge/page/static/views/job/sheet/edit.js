// A sheet made or changed: every part by touch, looked over by the box before it is saved.

import { $, el, toast } from "../../../dom.js";
import { send } from "../../../ask.js";
import { offered } from "./sheets.js";
import { asked, begin, change, draft, forget, set } from "./draft.js";
import { field, lines, numeric, typed } from "./fields.js";
import { picked } from "./roster.js";
import { foreseen, sentences } from "./told.js";
import { TABLES, openTable } from "./tables.js";

const HEAD = [
  { key: "title", name: "Title" },
  { key: "mob", name: "Mob" },
  { key: "leaving", name: "Where these animals go from here", kind: "touch", of: [["", "they stay"], ["meat", "for meat"], ["export", "for export"]] },
  { key: "require_tag", name: "Hold an animal without a tag", kind: "touch", of: [["", "as the station does"], ["yes", "yes"], ["no", "no"]] },
  { key: "shrink_percent", name: "Pencil shrink, %", kind: "number" },
];
const SEXES = ["", "calf", "heifer", "cow", "steer", "bull", "male", "female", "ewe", "wether", "ram", "lamb", "doe", "buck", "kid", "mixed"];
const DETAILS = [
  { key: "sex", name: "Sex", kind: "pick", of: SEXES.map((sex) => [sex, sex || "not said"]) },
  { key: "born", name: "Born", kind: "date" },
  { key: "birth_group", name: "Birth group" },
  { key: "breed", name: "Breed" },
];
const LIMITS = [
  { key: "kg_per_day", name: "kg a day", kind: "number", hint: "3 without a word" },
  { key: "fill_percent", name: "Gut fill, % of the weight", kind: "number", hint: "10 without a word" },
];
const ADD = { treatments: "Add a treatment", findings: "Add a finding", draft: "Add a pen", dam_ages: "Add a row" };
const OFFERED = { treatments: "given before", findings: "seen before" };

let place = null;

export function drawEdit(into) {
  place = into;
  const form = draft.form;
  const head = { ...form, require_tag: form.require_tag === undefined ? "" : form.require_tag ? "yes" : "no" };
  const fields = HEAD.map((one) => (one.key === "mob" ? { ...one, list: offered().mobs } : one));
  place.replaceChildren(
    el("h2", {}, draft.file ? "Change a sheet" : "A new sheet"),
    el("form", { id: "sheetform", novalidate: true, onsubmit: (event) => { event.preventDefault(); lookOver(); } },
      el("div", { class: "fields", oninput: headTyped }, fields.map((one) => field(one, head[one.key]))),
      section("roster", "Roster", rosterPart()),
      section("treatments", TABLES.treatments.many, tables("treatments")),
      section("findings", TABLES.findings.many, tables("findings")),
      section("draft", TABLES.draft.many, tables("draft"), "The first pen that takes an animal is its pen."),
      section("details", "The same for every animal", detailsPart()),
      folded("How far a weight may be from the last", "limits", limitsPart()),
      folded(TABLES.dam_ages.many, "dam_ages", tables("dam_ages")),
      el("div", { class: "acts" },
        el("button", { type: "button", onclick: leave }, "Leave without saving"), el("button", { type: "submit", class: "main" }, "Look it over"))),
    el("section", { id: "looked", "aria-live": "polite" }));
}

const section = (key, title, inner, quiet) =>
  el("section", { class: "part", id: `part-${key}`, "aria-label": title }, el("h3", {}, title), quiet ? el("p", { class: "quiet" }, quiet) : "", inner);

const folded = (title, key, inner) => el("details", { class: "part", id: `part-${key}`, open: Boolean(draft.form[key]?.length ?? draft.form[key]) }, el("summary", {}, title), inner);

function touched() {
  $("looked")?.replaceChildren();
}

function headTyped() {
  const values = typed(new FormData($("sheetform")), HEAD);
  const yes = { yes: true, no: false }[values.require_tag];
  for (const { key } of HEAD) set(draft.form, key, key === "require_tag" ? yes : values[key]);
  touched();
}

// -- tables --------------------------------------------------------------------------------------------------------

function tables(key) {
  const { name, text } = TABLES[key];
  const list = draft.form[key] ?? [];
  const known = new Set(list.map((one) => String(name(one)).toLowerCase()));
  const before = (offered()[key] ?? []).filter((one) => !known.has(String(one.name).toLowerCase()));
  return el("div", { id: `tables-${key}` },
    el("ol", { class: "rows" }, list.map((one, at) =>
      el("li", {}, el("button", { type: "button", class: "row", onclick: () => openOne(key, at) }, el("b", {}, name(one) ?? "?"), el("span", {}, text(one)))))),
    el("div", { class: "touch" },
      el("button", { type: "button", class: "add", onclick: () => add(key, {}) }, ADD[key]),
      before.slice(0, 8).map((one) => el("button", { type: "button", title: OFFERED[key], onclick: () => add(key, one) }, "+ ", one.name))));
}

function redraw(key) {
  change();
  touched();
  $(`tables-${key}`).replaceWith(tables(key));
}

async function add(key, one) {
  const list = (draft.form[key] ??= []);
  const take = (made) => { list.push(made); redraw(key); }; // a dialog that is only left changes nothing, nor what was looked over
  if (one.name) take(structuredClone(one)); // typed once, given again as it was
  else await openTable(key, one, { done: take });
  $(`tables-${key}`).querySelector(".add").focus();
}

async function openOne(key, at) {
  const list = draft.form[key];
  const one = list[at];
  await openTable(key, one, {
    done: (made) => { list[at] = made; redraw(key); },
    out: () => {
      list.splice(at, 1);
      redraw(key);
      toast(`${TABLES[key].title} taken out.`, { text: "Undo", run: () => { list.splice(at, 0, one); redraw(key); } });
    },
    move: (by) => { list.splice(Math.max(0, at + by), 0, ...list.splice(at, 1)); redraw(key); },
  });
  ($(`tables-${key}`).querySelectorAll(".row")[at] ?? $(`tables-${key}`).querySelector(".add")).focus();
}

// -- details, limits -----------------------------------------------------------------------------------------------

const pairs = (table, but) => Object.entries(table).filter(([key]) => !but.has(key)).map(([key, value]) => `${key} = ${value}`);

function detailsPart() {
  const now = draft.form.details ?? {};
  const own = new Set(DETAILS.map((one) => one.key));
  const fields = [...DETAILS, { key: "others", name: "What else", kind: "lines", hint: "one a line, as in: colour = black" }];
  const box = el("div", { class: "fields" }, fields.map((one) => field(one, one.key === "others" ? pairs(now, own) : now[one.key])));
  box.addEventListener("input", () => {
    const values = typed(formOf(box), fields);
    const others = Object.fromEntries(lines((values.others ?? []).join("\n")).map((line) => {
      const [key, ...rest] = line.split("=");
      return [key.trim(), numeric(rest.join("="))];
    }));
    const had = draft.form.details ?? {};
    const made = {};
    for (const { key } of DETAILS) if (values[key] !== undefined) made[key] = String(had[key]) === values[key] ? had[key] : values[key];
    for (const [key, value] of Object.entries(others)) made[key] = String(had[key]) === String(value) ? had[key] : value;
    set(draft.form, "details", Object.keys(made).length ? made : undefined);
    touched();
  });
  return box;
}

function limitsPart() {
  const box = el("div", { class: "fields" }, LIMITS.map((one) => field(one, draft.form.limits?.[one.key])));
  box.addEventListener("input", () => {
    const values = Object.fromEntries(Object.entries(typed(formOf(box), LIMITS)).filter(([, value]) => value !== undefined));
    set(draft.form, "limits", Object.keys(values).length ? values : undefined);
    touched();
  });
  return box;
}

// The fields of a part of a form, as a form gives them.
function formOf(box) {
  const data = new FormData();
  for (const one of box.querySelectorAll("input, select, textarea")) {
    if ((one.type !== "radio" && one.type !== "checkbox") || one.checked) data.append(one.name, one.value);
  }
  return data;
}

// -- roster --------------------------------------------------------------------------------------------------------

function rosterPart() {
  const name = draft.roster?.name ?? draft.form.roster;
  const file = el("input", { type: "file", accept: ".csv,.xlsx,text/csv", id: "rosterfile" });
  file.addEventListener("change", async () => {
    const chosen = file.files[0];
    if (!chosen) return;
    try {
      draft.roster = await picked(chosen);
    } catch (error) {
      return toast(error.message);
    }
    change();
    redrawRoster();
    lookOver();
  });
  return el("div", { id: "roster" },
    el("p", {}, name ? `${name}` : "No roster: nobody is expected by name."),
    el("label", {}, name ? "Another one (.csv or .xlsx)" : "Who is expected (.csv or .xlsx)", file),
    name ? el("button", { type: "button", onclick: () => { draft.roster = null; set(draft.form, "roster"); redrawRoster(); } }, "Without a roster") : "");
}

function redrawRoster() {
  touched();
  $("roster").replaceWith(rosterPart());
}

// -- looking over --------------------------------------------------------------------------------------------------

async function lookOver() {
  const about = draft.form;
  $("looked").replaceChildren(el("p", {}, "The box looks at it…"));
  const answer = await send(asked("sheet-try"));
  const looked = $("looked"); // the form may have been left or drawn anew meanwhile
  if (!looked || draft.form !== about) return;
  if (!answer) return looked.replaceChildren();
  const told = answer.sheet ?? { problems: [{ text: answer.text }] };
  if (!answer.done) {
    looked.replaceChildren(el("h2", { tabindex: -1 }, "Not yet good to use"), sentences(told.problems ?? [{ text: answer.text }], goTo), meanwhile(answer));
  } else {
    looked.replaceChildren(
      el("h2", { tabindex: -1 }, "What it would do"),
      told.doubts.length ? el("div", {}, el("h3", {}, "Look again"), sentences(told.doubts, goTo)) : "",
      ...foreseen(told),
      el("div", { class: "acts" }, el("button", { type: "button", class: "main", id: "save", onclick: save }, "Save")));
  }
  looked.querySelector("h2").focus({ preventScroll: true });
  looked.scrollIntoView({ block: "start" });
}

// One that was changed meanwhile can be opened again as it is now.
function meanwhile(answer) {
  if (!draft.file || !/meanwhile|no such sheet/.test(answer.text)) return "";
  const again = async () => {
    const [form, file] = [$("sheetform"), draft.file];
    form.inert = true; // what would be typed meanwhile would be lost
    const opened = await send({ kind: "sheet-open", file });
    form.inert = false;
    if (!opened?.done) return opened && toast(opened.text);
    begin(opened.sheet.form, { file, was: opened.sheet.digest });
    drawEdit(place);
  };
  return el("div", { class: "acts" }, el("button", { type: "button", onclick: again }, "Open it as it is now"));
}

async function save() {
  const answer = await send(asked("sheet-save"));
  if (!answer) return;
  if (!answer.done) {
    $("looked").replaceChildren(el("h2", { tabindex: -1 }, "Not saved"), sentences(answer.sheet?.problems ?? [{ text: answer.text }], goTo), meanwhile(answer));
    return $("looked").querySelector("h2").focus();
  }
  if (!answer.told) toast(answer.text);
  forget();
  location.hash = `#job/sheet/${encodeURIComponent(answer.sheet.file)}`;
}

function goTo(part, at) {
  const where = $(`part-${part}`);
  if (!where) return;
  where.open = true;
  where.scrollIntoView({ block: "start" });
  where.querySelectorAll(".row")[at]?.click();
}

function leave() {
  const left = structuredClone(draft);
  forget();
  location.hash = "#job";
  if (left.changed) toast("Left without saving.", { text: "Undo", run: () => { Object.assign(draft, left); change(); location.hash = "#job/edit"; } });
}
