// The view *job*: the job of this station, its figures, its animals, who may not go, and the way out as files.

import { save } from "../../ask.js";
import { $, el } from "../../dom.js";
import { yard } from "../../yard.js";
import { chooser, learnJobs, query } from "./chosen.js";
import { drawDay } from "./day.js";
import { prepareHeld } from "./held.js";
import { drawMob, mobList, takeWeighing } from "./mob.js";

export function prepare(place) {
  const file = (kind, text) => el("button", { type: "button", id: kind, onclick: () => save(`export.${kind}?${query()}`) }, text);
  place.append(
    el("h2", { id: "daytitle" }, "Today"),
    chooser(drawChosen),
    el("div", { id: "tally" }, el("p", {}, "Looking for the box.")),
    ...mobList(),
    el("h2", {}, "Who may not go"),
    el("form", { id: "may" },
      el("p", { class: "pick" }, el("label", {}, "On ", el("input", { id: "on", type: "date" }))),
      el("p", { class: "acts" }, el("button", { type: "submit", value: "meat" }, "For meat"), el("button", { type: "submit", value: "export" }, "For export"))),
    el("div", { id: "held", role: "status" }),
    el("p", { class: "acts" }, file("csv", "Save as CSV"), file("jsonl", "Save as JSON Lines")));
  prepareHeld();
}

function drawChosen() {
  drawDay();
  drawMob();
}

export async function enter() {
  if (yard.station && !$("job").hidden && (await learnJobs())) drawChosen();
}

// It costs the box a count: it is drawn while it is looked at, and once for a handful of weighings.
export function draw(what, data) {
  if (what !== "weighing") return;
  if (data) takeWeighing(data);
  clearTimeout(draw.timer);
  draw.timer = setTimeout(() => yard.station && !$("job").hidden && drawDay(), 300);
}
