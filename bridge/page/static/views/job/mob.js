// The animals of the chosen job, all of them: the box gives them once, in short, and the search runs on the phone.

import { read } from "../../ask.js";
import { $, el, fill, say } from "../../dom.js";
import { kilos, many, tagText } from "../../words.js";
import { yard } from "../../yard.js";
import { openCard } from "../now/card.js";
import { flag, grade } from "../now/rows.js";
import { chosenJob, query } from "./chosen.js";

let rows = []; // the latest first
let fits = [];
let turn = 0;

const numberOf = (one) => one.job_number ?? one.number;

export function mobList() {
  return [
    el("h2", {}, "Its animals"),
    el("label", { class: "search" }, "Find by ear, tag or number", el("input", { id: "findmob", type: "search", inputmode: "numeric", autocomplete: "off", oninput: find })),
    el("p", { id: "mobcount", class: "quiet", role: "status" }),
    el("ol", { id: "mob", class: "rows" }),
  ];
}

export async function drawMob() {
  const mine = ++turn;
  const answer = await read(`rows?${query()}`);
  if (mine !== turn) return; // another was asked for meanwhile
  rows = (answer?.rows ?? []).map(ready).reverse();
  find();
}

// What a row is found by is spelled once.
function ready(one) {
  return { ...one, words: [one.visual ?? "", one.tag ?? "", String(numberOf(one))].map((word) => word.toLowerCase()) };
}

// Whole words first, then beginnings, then whatever has it.
function rank({ words }, typed) {
  if (words.includes(typed)) return 0;
  if (words.some((word) => word.startsWith(typed))) return 1;
  if (words[1].endsWith(typed)) return 2;
  return words[0].includes(typed) || words[1].includes(typed) ? 3 : null;
}

export function find() {
  const typed = $("findmob").value.trim().toLowerCase().replace(/(?<=[0-9])[ .-]+(?=[0-9])/g, "");
  fits = typed
    ? rows.map((one) => [rank(one, typed), one]).filter(([place]) => place !== null).sort((a, b) => a[0] - b[0]).map(([, one]) => one)
    : rows;
  say("mobcount", typed ? `${fits.length} of ${rows.length}` : rows.length ? many(rows.length, "weighing") : "No animal yet.");
  fill($("mob"), fits, row);
}

function row(one) {
  const name = [one.visual ? `ear ${one.visual}` : one.tag && tagText(one.tag), one.pen].filter(Boolean).join(" · ");
  return el("li", { class: one.flags.includes("voided") ? "struck" : "", "data-weighing": one.weighing },
    el("button", { type: "button", onclick: () => openCard(one.weighing, one.station) },
      el("span", { class: "no" }, String(numberOf(one))),
      el("span", { class: "kilos" }, kilos(one.kg), el("small", {}, " kg")),
      grade(one.grade),
      el("span", { class: "name" }, name),
      one.flags.length > 0 && el("span", { class: "flags" }, one.flags.map(flag)),
      one.notes.length > 0 && el("span", { class: "notes" }, one.notes.flatMap((note) => ["“", el("bdi", {}, note), "” "]))));
}

// A weighing as the box tells it now: put in its place where it belongs to what is looked at.
export function takeWeighing(data) {
  const at = rows.findIndex((one) => one.weighing === data.weighing);
  const job = chosenJob();
  if (at < 0 && (data.station !== yard.station || !job || data.job !== job.job)) return;
  const { weighing, revision, station, number, job_number, pen, flags, notes, weight, animal, tag } = data;
  const short = ready({ weighing, revision, station, number, job: data.job, job_number, pen, flags, notes,
    kg: weight.kg, grade: weight.grade, visual: animal?.visual ?? null, tag: tag?.id ?? null });
  if (at < 0) rows.unshift(short);
  else rows[at] = short;
  const found = fits.findIndex((one) => one.weighing === weighing);
  if (found >= 0) fits[found] = short;
  const shown = $("mob").querySelector(`[data-weighing="${CSS.escape(weighing)}"]`);
  if (shown) shown.replaceWith(row(short));
  else if (at < 0) find();
}
