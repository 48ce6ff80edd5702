// One animal's story: who it is, what it wore, every weighing; retag, name, mark; and what of that can be taken back.

import { read, ready, send, talk } from "../../ask.js";
import { $, el, svg } from "../../dom.js";
import { clearDay, clock, day, dose, tagText, valueText } from "../../words.js";
import { yard } from "../../yard.js";
import { markForm } from "../now/acts.js";
import { changed, historyTable, openCard } from "../now/card.js";

const RULES = "Local rules decide whether and how a replaced tag must be reported.";
const FRESH_MS = 10 * 60000; // a tag heard longer ago is hardly the one in the hand

let shown = null;

export function hideStory() {
  shown = null;
  $("story").hidden = true;
}

export async function showStory(id) {
  shown = id;
  $("story").hidden = false;
  const answer = await read(`herd/${encodeURIComponent(id)}`);
  if (shown !== id || !answer) return;
  if (!answer.animal) return $("story").replaceChildren(el("p", {}, answer.text), back());
  draw(answer.animal, answer.weighings, answer.line);
  const told = await read(`changes?${new URLSearchParams({ animal: id })}`);
  if (shown !== id || !told?.changes?.length) return;
  $("storychanges").replaceChildren(el("h3", {}, "What was said of it"),
    el("ul", { class: "changes" }, told.changes.map((one) => changed(one, null, () => showStory(id)))));
}

const back = () => el("a", { class: "button", href: "#animals" }, "Herd book");

function facts(one) {
  const former = one.tags.filter((tag) => tag.until !== null);
  return [
    ["Tag", one.tag ? tagText(one.tag) : "none"],
    ...former.map((tag) => ["Tag before", `${tagText(tag.id)}, until ${day(tag.until)}`]),
    ["Numbers before", one.visuals.slice(0, -1).join(", ")],
    ["Own number", one.roster_id], ["Sex", one.sex], ["Born", one.born && day(`${one.born}T12:00`)], ["Dam", one.dam], ["Mob", one.mob],
    ...Object.entries(one.lasting).map(([name, value]) => [name.replaceAll("_", " "), valueText(value)]),
    ["Withheld until", one.withheld_until && `${day(`${one.withheld_until}T12:00`)}, by a roster`],
  ].filter(([, value]) => value);
}

function doses(weighings) {
  const given = weighings.flatMap((one) => one.treatments.filter((dosed) => !dosed.skipped).map((dosed) => [one, dosed]));
  if (!given.length) return "";
  const head = ["Day", "What", "How much", "Withheld until"].map((name) => el("th", { scope: "col" }, name));
  return el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Doses" }, el("table", {},
    el("thead", {}, el("tr", {}, head)),
    el("tbody", {}, given.map(([one, dosed]) => el("tr", {}, el("td", {}, day(one.on)), el("td", {}, dosed.name), el("td", {}, dose(dosed)), el("td", {}, dosed.withheld_until ? clearDay(dosed.withheld_until) : ""))))));
}

function draw(one, weighings, line) {
  const again = (said) => { if (said?.done) showStory(one.id); return said; };
  const ask = async (request) => again(await send({ ...request, animal: one.id }));
  const mark = (each) => el("li", {}, el("span", {}, el("b", {}, each.text), each.until ? ` until ${day(`${each.until}T12:00`)}` : ""),
    el("button", { type: "button", onclick: () => ask({ kind: "unmark", text: each.text }) }, "Take off"));
  const latest = weighings[0];
  const picture = line ? el("div", { class: "pictures" }, el("figure", {}, el("figcaption", {}, "Its weights"), svg(line))) : "";
  $("story").replaceChildren(el("div", { class: "halves" }, el("div", {},
    el("h2", {}, one.visual ? `Ear ${one.visual}` : "No ear number"),
    el("ul", { class: "changes", id: "marks" }, one.marks.map(mark)),
    el("dl", { class: "facts" }, facts(one).map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, el("bdi", {}, value))))),
    el("div", { class: "acts" },
      el("button", { type: "button", id: "retag", onclick: () => retag(one, ask) }, "New tag"),
      el("button", { type: "button", id: "rename", onclick: () => rename(ask) }, "Ear number"),
      el("button", { type: "button", id: "mark", onclick: () => markIt(ask) }, "Mark"),
      latest ? el("button", { type: "button", onclick: () => openCard(latest.weighing, latest.station) }, "Last weighing") : back(),
      latest && back())), picture),
    weighings.length ? el("h3", {}, `${weighings.length === 1 ? "One weighing" : `${weighings.length} weighings`}`) : el("p", { class: "quiet" }, "Not weighed here yet."),
    weighings.length ? historyTable(weighings) : "",
    weighings.some((each) => each.treatments.length) ? el("h3", {}, "Doses") : "", doses(weighings),
    el("div", { id: "storychanges" }));
}

// The tag that a reader has just heard is the one in the hand: offered, one touch.
function retag(one, ask) {
  const heard = Object.values(yard.heard).filter(({ tag, at }) => Date.now() - at < FRESH_MS && tag !== one.tag).sort((a, b) => b.at - a.at)[0];
  const field = el("input", { name: "tag", inputmode: "numeric", autocomplete: "off", maxlength: 40, required: true });
  return talk({
    title: "New tag",
    about: `Another tag takes the place of ${one.tag ? `…${one.tag.slice(-6)}` : "none"}; the old one stays known. ${RULES}`,
    fields: [
      heard && ready(field, heard.tag, `${tagText(heard.tag)}, heard ${clock(new Date(heard.at))}`, "main"),
      el("label", {}, heard ? "Or another tag's 15 digits" : "The new tag's 15 digits; or let a reader hear it first", field),
    ],
    yes: "It wears this",
    send: (typed) => ask({ kind: "retag", tag: typed.get("tag") }),
  });
}

const rename = (ask) => talk({
  title: "Ear number",
  about: "",
  fields: [el("label", {}, "The number that it has from now on", el("input", { name: "visual", inputmode: "numeric", autocomplete: "off", maxlength: 64, required: true }))],
  yes: "That is its number",
  send: (typed) => ask({ kind: "name", visual: typed.get("visual") }),
});

function markIt(ask) {
  const { title, fields, yes, request } = markForm();
  return talk({ title, about: "It is told of whenever this animal comes.", fields, yes, send: (typed) => ask(request(typed)) });
}
