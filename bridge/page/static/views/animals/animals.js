// The view *animals*: the herd book by search; #animals/ID is one animal's story.

import { read } from "../../ask.js";
import { $, el, fill, say } from "../../dom.js";
import { tagText } from "../../words.js";
import { hideStory, showStory } from "./story.js";

let typed = "";
let from = 0;
let turn = 0;
let asking = false; // one question at a time: while one is on its way, only the last that was typed meanwhile is kept
let next = null;

export function prepare(place) {
  const field = el("input", { id: "findherd", type: "search", inputmode: "numeric", autocomplete: "off", oninput: () => look(field.value) });
  const letters = el("button", { type: "button", class: "letters", onclick: () => {
    field.inputMode = field.inputMode === "text" ? "numeric" : "text";
    field.focus();
  } }, "ABC");
  place.append(
    el("div", { id: "herdbook" },
      el("h2", {}, "Herd book"),
      el("div", { class: "with" }, el("label", { class: "search" }, "Find by ear, tag or own number", field), letters),
      el("p", { id: "herdcount", class: "quiet", role: "status" }),
      el("ul", { id: "herd", class: "rows" }),
      el("p", { class: "acts" }, el("button", { type: "button", id: "before", onclick: () => page(-1) }, "Page back"), el("button", { type: "button", id: "after", onclick: () => page(1) }, "Next page"))),
    el("div", { id: "story", hidden: true }));
}

let size = 40;
const page = (by) => search(typed, Math.max(0, from + by * size));

async function look(text) {
  if (asking) return void (next = text);
  asking = true;
  await search(text);
  asking = false;
  const then = next;
  next = null;
  if (then !== null) look(then);
}

async function search(text, start = 0) {
  const mine = ++turn;
  [typed, from] = [text, start];
  const answer = await read(`herd?${new URLSearchParams({ find: text, from: start })}`);
  if (mine !== turn || !answer) return;
  if (!answer.animals) return say("herdcount", answer.text);
  const { count, animals } = answer;
  say("herdcount", count ? `${start + 1} to ${start + animals.length} of ${count}` : text ? "Nobody is called so." : "The herd book is empty: it fills as animals with tags are weighed, or by a roster.");
  $("before").hidden = start === 0;
  $("after").hidden = start + animals.length >= count;
  if (animals.length) size = Math.max(size, animals.length);
  fill($("herd"), animals, row);
}

function row(one) {
  return el("li", {}, el("a", { class: "button", href: `#animals/${one.id}` },
    el("b", {}, one.visual ? `Ear ${one.visual}` : "No ear number"),
    el("span", {}, one.tag ? tagText(one.tag) : "no tag"),
    one.marks.length > 0 && el("span", { class: "flags" }, one.marks.map((mark) => el("span", { class: "flag" }, mark.text)))));
}

export function enter(id) {
  $("herdbook").hidden = !!id;
  if (id) return showStory(id);
  hideStory();
  search(typed, from);
}
