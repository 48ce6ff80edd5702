// The last few weighings, and one animal's card: all that is known of it, its history, what can be done.

import { $, el, say, toast } from "../../dom.js";
import { GRADES, clock, day, dose, flagText, kilos, named, tagText } from "../../words.js";

const SHOWN = 30;
const struck = (one) => one.flags.includes("voided");

const grade = (one) => el("span", { class: `grade ${one.weight.grade}` }, GRADES[one.weight.grade].split(":")[0]);
const flag = (name) => el("span", { class: "flag" }, flagText(name));

export function drawRows(weighings, open) {
  const latest = weighings.slice(-SHOWN).reverse();
  $("none").hidden = latest.length > 0;
  const old = new Map([...$("rows").children].map((row) => [row.dataset.key, row]));
  const rows = latest.map((one) => {
    const key = `${one.weighing} ${one.revision}`;
    return old.get(key) ?? row(one, key, open);
  });
  $("rows").replaceChildren(...rows);
}

function row(one, key, open) {
  return el("li", { "data-key": key, class: struck(one) ? "struck" : "" },
    el("button", { type: "button", onclick: () => open(one.weighing) },
      el("span", { class: "no" }, String(one.number)),
      el("span", { class: "kilos" }, kilos(one.weight.kg), el("small", {}, " kg")),
      grade(one),
      el("span", { class: "name" }, [one.flags.includes("no-tag") ? null : named(one), one.pen].filter(Boolean).join(" · ")),
      one.flags.length > 0 && el("span", { class: "flags" }, one.flags.map(flag)),
      one.notes.length > 0 && el("span", { class: "notes" }, one.notes.flatMap((note) => ["“", el("bdi", {}, note), "” "]))));
}

export function openCard(one, sentences, acts) {
  say("cardtitle", `No. ${one.number}: ${kilos(one.weight.kg)} kg`);
  const facts = [
    ["Animal", named(one)],
    ["Tag", one.tag ? tagText(one.tag.id) : "none"],
    ["Weight", `${kilos(one.weight.kg)} kg, ${GRADES[one.weight.grade]}`],
    ["When", `${day(one.on)}, ${clock(one.on)} to ${clock(one.off)}`],
    ["Clock", one.clock === "synchronised" ? null : "not set: times may be wrong"],
    ["Pen", one.pen],
    ["Daily gain", one.gain?.kg_per_day != null ? `${one.gain.kg_per_day.toFixed(2)} kg over ${one.gain.days} days` : null],
    ...one.treatments.flatMap((given) => [
      [given.name, [dose(given), given.withheld_until && `withheld until ${given.withheld_until}`, given.remark].filter(Boolean).join("; ")],
    ]),
    ...Object.entries(one.details).map(([name, value]) => [name.replaceAll("_", " "), String(value)]),
    ...one.notes.map((note) => ["Note", note]),
  ].filter(([, value]) => value);
  $("facts").replaceChildren(
    el("ul", { class: "sentences", hidden: !one.flags.length }, one.flags.map((name) => el("li", {}, sentences[name] ?? flagText(name)))),
    el("dl", {}, facts.map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value)))),
    el("div", { id: "history" }));
  const button = (text, act, stern) => el("button", { type: "button", class: stern ? "stern" : "", onclick: () => act(one) }, text);
  $("cardacts").replaceChildren(
    button("Note", acts.note), button("Ear number", acts.number), button("Not given", acts.skip),
    button("Strike out", acts.void, true), el("button", { type: "button", class: "main", onclick: () => $("card").close() }, "Back"));
  if (!$("card").open) $("card").showModal();
  if (one.tag) history(one.tag.id);
}

async function history(tag) {
  let answer;
  try {
    answer = await (await fetch(`animals/${tag}`, { cache: "no-store" })).json();
  } catch {
    return toast("The box was not reached; the history is missing.");
  }
  const rows = (answer.weighings ?? []).map((one) =>
    el("tr", { class: struck(one) ? "struck" : "" }, el("td", {}, day(one.on)), el("td", {}, kilos(one.weight.kg)),
      el("td", {}, grade(one)), el("td", {}, one.gain?.kg_per_day != null ? one.gain.kg_per_day.toFixed(2) : "")));
  const head = ["Day", "kg", "Grade", "kg a day"].map((name) => el("th", { scope: "col" }, name));
  $("history")?.replaceChildren(
    el("h3", {}, "This animal before"),
    el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "History" },
      el("table", {}, el("thead", {}, el("tr", {}, head)), el("tbody", {}, rows))));
}
