// The view *job*: the job of this station, its figures, its animals, who may not go, and the way out as files.

import { $, el } from "../../dom.js";
import { yard } from "../../yard.js";
import { choose, drawDay } from "./day.js";
import { prepareHeld } from "./held.js";

export function prepare(place) {
  const day = el("input", { id: "date", type: "date", onchange: () => { choose(day.value); enter(); } });
  place.append(
    el("h2", { id: "daytitle" }, "Today"),
    el("p", { class: "pick" }, el("label", {}, "Day ", day)),
    el("div", { id: "tally" }, el("p", {}, "Looking for the box.")),
    el("h2", {}, "Who may not go"),
    el("form", { id: "may" },
      el("p", { class: "pick" }, el("label", {}, "On ", el("input", { id: "on", type: "date" }))),
      el("p", { class: "acts" }, el("button", { type: "submit", value: "meat" }, "For meat"), el("button", { type: "submit", value: "export" }, "For export"))),
    el("div", { id: "held", role: "status" }),
    el("p", { class: "acts" },
      el("a", { id: "csv", class: "button", download: true }, "Save as CSV"), el("a", { id: "jsonl", class: "button", download: true }, "Save as JSON Lines")));
  prepareHeld();
}

export function enter() {
  if (yard.station && !$("job").hidden) drawDay(yard.station);
}

// It costs the box a count: it is drawn while it is looked at, and once for a handful of weighings.
export function draw(what) {
  if (what !== "weighing") return;
  clearTimeout(draw.timer);
  draw.timer = setTimeout(enter, 300);
}
