// One animal's card: all that is known of one weighing, what was said of it and can be taken back, its history, and
// what can be done.  It is drawn anew whenever the box tells of a change of it.

import { read, undo } from "../../ask.js";
import { $, el, raiseToast, toast } from "../../dom.js";
import { open } from "../../talk.js";
import { GRADES, clearDay, clock, day, dose, flagText, kilos, named, tagText, valueText } from "../../words.js";
import { table, watch, yard } from "../../yard.js";
import { acts, numberOf, toGive } from "./acts.js";
import { goOn } from "./paused.js";
import { grade, struck } from "./rows.js";
import { drawFindings, forget } from "./see.js";

let shown = null; // the weighing on the card
let history = []; // what the box gave of this animal before
let story = null; // its id, once the herd book knows it

const dates = (given) => [
  given.withheld_until && `withheld until ${clearDay(given.withheld_until)}`, given.export_from && `export from ${clearDay(given.export_from)}`];

function facts(one) {
  return [
    ["Animal", one.animal?.visual && named(one)],
    ["Tag", one.tag ? tagText(one.tag.id) : "none"],
    ["Weight", `${kilos(one.weight.kg)} kg, ${GRADES[one.weight.grade]}`],
    ["When", `${day(one.on)}, ${clock(one.on)} to ${clock(one.off)}`],
    ["Clock", one.clock === "synchronised" ? null : "not set: times may be wrong"],
    ["Look out", one.marks?.join("; ")],
    ["Pen", one.pen && (one.pen_should && one.pen_should !== one.pen ? `${one.pen}; by what is known now ${one.pen_should}` : one.pen)],
    ["Daily gain", one.gain?.kg_per_day != null ? `${one.gain.kg_per_day.toFixed(2)} kg over ${one.gain.days} days` : null],
    ...one.treatments.map((given) => [given.name, [dose(given), given.batch && `batch ${given.batch}`, ...dates(given), given.remark].filter(Boolean).join("; ")]),
    ...(one.findings ?? []).filter((found) => found.value !== null).map((found) => [found.name, valueText(found.value)]),
    ...Object.entries(one.details).map(([name, value]) => [name.replaceAll("_", " "), String(value)]),
    ...one.notes.map((note) => ["Note", note]),
    ["Amended", one.why],
  ].filter(([, value]) => value);
}

const TOUCH = { "dose-doubtful": "Touch Given if it had it as it is told here, Dose if it had another amount, Not given if it had none." };

const asked = (one) => (one.sheet && one.sheet === table().sheet ? table().findings : []);

function draw(one) {
  const sentence = (name) => el("li", {}, [yard.sentences[name] ?? flagText(name), TOUCH[name]].filter(Boolean).join("  "));
  const button = (text, act, stern) => el("button", { type: "button", class: stern ? "stern" : "", onclick: () => act(one) }, text);
  const link = el("a", { class: "button", id: "storylink", href: `#animals/${one.animal?.id}`, hidden: !story, onclick: () => $("card").close() }, "Its story");
  const see = el("div", { id: "cardsee" });
  $("card").replaceChildren(
    el("div", { id: "cardhead" },
      el("h2", { id: "cardtitle", tabindex: -1 }, `No. ${numberOf(one)}: ${kilos(one.weight.kg)} kg`),
      el("button", { type: "button", class: "main", onclick: () => $("card").close() }, "Back")),
    el("div", { class: "acts", id: "cardacts" },
      button("Note", acts.note), button("Ear number", acts.number), button("Tag", acts.tag),
      one.treatments.length > 0 && [button("Not given", acts.skip), toGive(one).length > 0 && button("Given", acts.given), button("Dose", acts.dose)],
      one.flags.includes("paused") && button("Count in from here", (from) => goOn({ from: from.number })),
      one.animal?.id && button("Mark", acts.mark), link, !struck(one) && button("Strike out", acts.void, true)),
    el("div", { id: "facts" },
      el("ul", { class: "sentences", hidden: !one.flags.length }, one.flags.map(sentence)),
      el("dl", {}, facts(one).map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, el("bdi", {}, value)))))),
    see, el("div", { id: "changes" }), el("div", { id: "history" })); // what comes late is last: it moves no button
  raiseToast(); // it may have lain in what is gone
  drawFindings(see, asked(one), { station: one.station, weighing: one.weighing, findings: one.findings, redraw: redrawFindings });
  if (history.length) drawHistory();
}

function redrawFindings() {
  if (shown && $("cardsee")) drawFindings($("cardsee"), asked(shown), { station: shown.station, weighing: shown.weighing, findings: shown.findings, redraw: redrawFindings });
}

// Opens the card of a weighing: one at hand by its id, any other with the station that it was weighed at.
export async function openCard(id, station = yard.station) {
  const one = yard.weighings.get(id) ?? (await read(`weighings/${station}/${id}`));
  if (!one) return;
  if (one.text) return toast(one.text);
  shown = one;
  [history, story] = [[], null];
  draw(one);
  open($("card"), () => (shown = null));
  $("cardtitle").focus();
  changes();
  past();
}

// What was said of it and stands, the latest first, each to be taken back.
async function changes() {
  const of = shown.weighing;
  const animal = shown.animal?.id;
  const answer = await read(`changes?${new URLSearchParams({ weighing: of, ...(animal && { animal }) })}`);
  if (shown?.weighing !== of || !answer?.changes) return;
  $("changes").replaceChildren(answer.changes.length ? el("h3", {}, "What was said of it") : "",
    el("ul", { class: "changes" }, answer.changes.map((one) => changed(one, shown.station))));
}

export function changed(one, station, after = () => {}) {
  const back = async (event) => {
    event.target.disabled = true;
    const said = await undo(one.asked, station);
    if (said?.done && said.weighing) forget(said.weighing);
    event.target.disabled = false;
    if (shown) changes();
    after();
  };
  return el("li", {}, el("span", {}, `${clock(one.time)} `, el("bdi", {}, one.text)), el("button", { type: "button", onclick: back }, "Undo"));
}

async function past() {
  const of = shown;
  if (!of.animal?.id && !of.tag) return;
  const answer = await read(`herd/${of.animal?.id ?? "-"}?${new URLSearchParams({ ...(of.tag && { tag: of.tag.id }) })}`);
  if (shown?.weighing !== of.weighing || !answer?.weighings) return;
  [history, story] = [answer.weighings, answer.animal?.id ?? null];
  $("storylink").hidden = !story;
  drawHistory();
}

export function historyTable(weighings) {
  const rows = weighings.map((one) =>
    el("tr", { class: struck(one) ? "struck" : "" }, el("td", {}, day(one.on)), el("td", {}, kilos(one.weight.kg)),
      el("td", {}, grade(one.weight.grade)), el("td", {}, one.gain?.kg_per_day != null ? one.gain.kg_per_day.toFixed(2) : "")));
  const head = ["Day", "kg", "Grade", "kg a day"].map((name) => el("th", { scope: "col" }, name));
  return el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "History" },
    el("table", {}, el("thead", {}, el("tr", {}, head)), el("tbody", {}, rows)));
}

const drawHistory = () => $("history").replaceChildren(el("h3", {}, "This animal before"), historyTable(history));

watch((what, data) => {
  if (what !== "weighing" || !shown || data?.weighing !== shown.weighing || data.revision <= shown.revision) return;
  shown = data;
  draw(data);
  changes();
});
