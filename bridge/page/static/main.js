// Puts the page together: what is known of the yard, what to draw when it changes, what can be asked.

import { talk, send, unlock } from "./ask.js";
import { choose, drawDay } from "./day.js";
import { $, drawn, el, kept, say, show } from "./dom.js";
import { drawFindings } from "./see.js";
import { prepareHeld } from "./held.js";
import { noise, prepare } from "./noise.js";
import { drawCount, drawPlaces, drawSign } from "./now.js";
import { drawRows, openCard } from "./rows.js";
import { follow } from "./stream.js";
import { named, stateText } from "./words.js";
import { drawQuestion } from "./which.js";

const KEPT = 300;
const yard = { state: {}, views: {}, settled: {}, weighings: new Map(), sentences: {}, near: false, station: kept.get("station", null) };

const view = () => yard.views[yard.station];
const here = () => [...yard.weighings.values()].filter((one) => one.station === yard.station);

// -- what the box tells --------------------------------------------------------------------------------------------

function begin({ state, views, weighings, flags }) {
  yard.views = views;
  yard.sentences = flags;
  weighings.forEach(keep);
  take(state);
  drawSeenDay();
}

function take(state) {
  yard.state = state;
  const names = Object.keys(state.stations ?? {});
  if (!names.includes(yard.station)) yard.station = names[0] ?? null;
  show("choose", names.length > 1);
  const options = [...$("station").options].map((option) => option.value);
  if (options.join() !== names.join()) $("station").replaceChildren(...names.map((name) => el("option", {}, name)));
  if (yard.station) $("station").value = yard.station;
  say("site", state.site || "neckyoke");
  say("place", names.length === 1 ? names[0] : "");
  drawAll();
}

function keep(weighing) {
  const had = yard.weighings.get(weighing.weighing);
  if (had && had.revision >= weighing.revision) return;
  yard.weighings.set(weighing.weighing, weighing);
  if (yard.weighings.size > KEPT) yard.weighings.delete(yard.weighings.keys().next().value);
}

function event({ type, data }, past) {
  const sound = past ? () => {} : noise;
  if (type === "neckyoke.settled") {
    yard.settled[data.station] = data;
    const shown = yard.views[data.station];
    if (!past && (!shown || shown.number == null || shown.number <= data.number)) {
      yard.views[data.station] = {
        ...shown, state: "settled", number: data.number, settled_kg: data.weight.kg, grade: data.weight.grade,
        tag: data.tag?.id ?? null, tags_seen: data.tags_seen, may_leave: data.may_leave, missing: data.missing,
        next: shown?.number === data.number && shown.state === "settled" ? shown.next : "",
      };
    }
    if (data.station === yard.station) sound(data.may_leave ? "settled" : data.missing?.length ? "tag" : "held");
  } else if (type === "neckyoke.weighing") {
    keep(data);
    drawDaySoon();
    if (data.revision === 1 && data.station === yard.station && data.flags.includes("no-tag")) sound("tag");
  } else if (type === "neckyoke.attention") {
    const troubles = (yard.state.troubles ?? []).filter((one) => one.about !== data.about);
    yard.state = { ...yard.state, troubles: data.over ? troubles : [...troubles, { about: data.about, text: data.text }] };
    if (data.about === "marked" && data.station === yard.station) sound("mark");
    if (!data.over) sound("trouble");
  } else if (type === "neckyoke.link") {
    yard.state.links = { ...yard.state.links, [data.link]: { state: data.state, text: data.text } };
    if (data.state !== "up") sound("trouble");
  }
  drawAll();
}

function live(shown) {
  yard.views[shown.station] = shown;
  if (shown.station === yard.station) drawNow();
}

function near(is) {
  yard.near = is;
  drawNow();
}

// -- drawing -------------------------------------------------------------------------------------------------------

function drawNow() {
  const shown = view();
  const settled = yard.settled[yard.station];
  const known = settled && settled.number === shown?.number ? settled : null;
  drawSign(shown, known, yard.near, here().at(-1));
  const stands = yard.near && shown?.weighing && ["standing", "settled", "leaving"].includes(shown.state);
  drawQuestion(shown?.question);
  drawFindings(yard.station, yard.state.stations?.[yard.station]?.findings,
    stands ? { weighing: shown.weighing, findings: known?.findings, redraw: drawNow } : null);
}

function drawAll() {
  const table = yard.state.stations?.[yard.station] ?? {};
  drawNow();
  drawRows(here(), card);
  drawCount(table.counts);
  drawPlaces(table.places);
  drawTroubles();
  say("sheet", table.sheet || "No sheet: weights and tags only.");
  drawWires();
}

function drawTroubles() {
  const away = Object.entries(yard.state.links ?? {}).filter(([, one]) => one.state && one.state !== "up");
  const texts = [
    ...(yard.state.troubles ?? []).map((one) => one.text),
    ...away.map(([name, one]) => `${name} is ${stateText(one.state)}${one.text ? `: ${one.text}` : "."}`),
  ];
  show("troubles", texts.length > 0);
  const spelled = texts.join("\n");
  if (drawTroubles.last === spelled) return;
  drawTroubles.last = spelled;
  const mark = () => drawn("svg", { "aria-hidden": "true" }, drawn("use", { href: "#shape-trouble" }));
  $("troubles").replaceChildren(...texts.map((text) => el("p", {}, mark(), text)));
}

function drawWires() {
  const links = Object.entries(yard.state.links ?? {});
  const outlets = Object.entries(yard.state.outlets ?? {});
  const line = (name, text) => el("li", {}, el("b", {}, name), ` ${text}`);
  $("wires").replaceChildren(
    ...links.map(([name, one]) => line(name, [stateText(one.state), one.text].filter(Boolean).join(": "))),
    ...outlets.map(([name, one]) => line(name, [
      one.backlog ? `${one.backlog} events wait for it.` : "has everything.", ...Object.values(one.trouble ?? {})].join(" "))));
}

// The day costs the box a count: it is drawn while it is looked at, and once for a handful of weighings.
function drawSeenDay() {
  if (yard.station && !$("day").hidden) drawDay(yard.station);
}

function drawDaySoon() {
  clearTimeout(drawDaySoon.timer);
  drawDaySoon.timer = setTimeout(drawSeenDay, 300);
}

function goTo() {
  const name = ["day", "box"].find((one) => location.hash === `#${one}`) ?? "now";
  document.querySelectorAll(".view").forEach((section) => (section.hidden = section.id !== name));
  document.querySelectorAll("nav a").forEach((link) =>
    link.hash === `#${name}` ? link.setAttribute("aria-current", "page") : link.removeAttribute("aria-current"));
  drawSeenDay();
  scrollTo(0, 0);
}

// -- asking --------------------------------------------------------------------------------------------------------

// The animal meant: the one given, else the one standing now, else the last one.
function meant(one) {
  if (one) return { request: { weighing: one.weighing }, text: `For no. ${one.number}, ${named(one)}.`, treatments: one.treatments };
  const shown = view();
  if (yard.near && shown?.number != null) {
    const settled = yard.settled[yard.station];
    const given = settled?.number === shown.number ? settled.treatments : [];
    return { request: { number: shown.number }, text: `For the animal here now, no. ${shown.number}.`, treatments: given };
  }
  const latest = here().at(-1);
  return latest ? meant(latest) : null;
}

function about(one, form) {
  const animal = meant(one);
  if (!animal) return talk({ title: form(null).title, about: "No animal has been weighed yet.", fields: [], yes: "" });
  const { title, fields, request, yes, stern } = form(animal);
  return talk({
    title, about: animal.text, fields, yes, stern,
    send: (typed) => send({ station: yard.station, ...animal.request, ...request(typed) }),
  });
}

const acts = {
  note: (one) => about(one, () => ({
    title: "Note",
    fields: [el("label", {}, "What you see", el("textarea", { name: "text", rows: 3, maxlength: 500, required: true }))],
    request: (typed) => ({ kind: "note", text: typed.get("text").replace(/\s+/g, " ") }),
  })),
  number: (one) => about(one, () => ({
    title: "Ear number",
    fields: [el("label", {}, "The number you can read on the ear", el("input", { name: "visual", maxlength: 64, required: true, autocomplete: "off" }))],
    request: (typed) => ({ kind: "identify", visual: typed.get("visual") }),
  })),
  skip: (one) => about(one, (animal) => {
    const names = animal?.treatments?.map((given) => given.name) ?? [];
    const all = names.length ? names : yard.state.stations?.[yard.station]?.treatments ?? [];
    return {
      title: "Not given",
      fields: all.length
        ? [choice("treatment", "Which treatment was not given?", all)]
        : [el("p", {}, "The job sheet has no treatments.")],
      yes: all.length ? "Not given" : "",
      request: (typed) => ({ kind: "skip", treatment: typed.get("treatment") }),
    };
  }),
  void: (one) => about(one, () => ({
    title: "Strike out",
    fields: [el("label", {}, "Why (may be left empty)", el("input", { name: "reason", maxlength: 500, autocomplete: "off" }))],
    yes: "Strike it out",
    stern: true,
    request: (typed) => ({ kind: "void", reason: typed.get("reason") }),
  })),
  sheet: () => {
    const files = yard.state.stations?.[yard.station]?.sheets ?? [];
    return talk({
      title: "Choose sheet",
      about: "It holds from the next animal on.",
      fields: [files.length
        ? choice("file", "Job sheet", files)
        : el("label", {}, "Its file; empty reads the present one again", el("input", { name: "file", autocomplete: "off" }))],
      yes: "Use it",
      send: (typed) => send({ kind: "sheet", station: yard.station, ...(typed.get("file") && { file: typed.get("file") }) }),
    });
  },
  zero: () => talk({
    title: "Set zero",
    about: "The platform must be empty and clean, and stand still.",
    fields: [],
    yes: "It is empty: set zero",
    send: () => send({ kind: "zero", station: yard.station }),
  }),
};

function choice(name, legend, values) {
  return el("fieldset", {}, el("legend", {}, legend), values.map((value, at) =>
    el("label", { class: "pick" }, el("input", { type: "radio", name, value, required: true, checked: at === 0 && values.length === 1 }), value)));
}

const card = (id) => openCard(yard.weighings.get(id), yard.sentences, acts);

// -- beginning -----------------------------------------------------------------------------------------------------

document.querySelectorAll("[data-act]").forEach((button) => button.addEventListener("click", () => acts[button.dataset.act]()));
$("lock").addEventListener("click", () => unlock());
$("station").addEventListener("change", () => {
  kept.set("station", (yard.station = $("station").value));
  drawAll();
  drawSeenDay();
});
$("date").addEventListener("change", () => {
  choose($("date").value);
  drawSeenDay();
});
addEventListener("hashchange", goTo);
prepare();
prepareHeld();
goTo();
follow({ begin, event, live, state: take, near });
