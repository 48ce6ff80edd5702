// The view *job*: the job of this station and its sheets; the figures, papers and animals of one job; and who may not go.
// Its other parts have addresses, and take the place of all that: #job/sheets, #job/sheet/FILE and #job/edit.

import { save } from "../../ask.js";
import { $, el } from "../../dom.js";
import { table, yard } from "../../yard.js";
import { chooser, learnJobs, query } from "./chosen.js";
import { drawDay } from "./day.js";
import { prepareHeld } from "./held.js";
import { drawMob, mobList, takeWeighing } from "./mob.js";
import { drawOpen, redrawOpen } from "./open.js";
import { drawEdit } from "./sheet/edit.js";
import { draft, takeUp } from "./sheet/draft.js";
import { drawSheet, drawSheets, list } from "./sheet/sheets.js";

const PAPERS = {
  report: ["report.html", "Report"], csv: ["export.csv", "Weighings, CSV"], jsonl: ["export.jsonl", "Weighings, JSON Lines"],
  register: ["register.csv", "Register of doses, CSV"], registerpage: ["register.html", "Register of doses"],
};
const PARTS = {
  sheets: (place) => drawSheets(place),
  sheet: (place, file) => drawSheet(place, file),
  edit: async (place) => {
    if (!draft.form && !takeUp()) return void (location.hash = "#job/sheets");
    await list(); // what was typed once is offered again
    drawEdit(place);
  },
};
const JUMPS = { daytitle: "Figures", mobtitle: "Animals", maytitle: "Who may not go" };

let shown = null;

export function prepare(place) {
  const file = ([id, [path, text]]) => el("button", { type: "button", id, onclick: () => save(`${path}?${query()}`) }, text);
  const jump = ([id, text]) => el("button", { type: "button", onclick: () => { $(id).scrollIntoView({ block: "start" }); $(id).focus({ preventScroll: true }); } }, text);
  const [title, ...mob] = mobList();
  title.id = "mobtitle";
  place.append(
    el("div", { id: "jobwhole" },
      el("div", { class: "jumps" }, Object.entries(JUMPS).map(jump)),
      el("div", { id: "jobnow" }),
      el("h2", { id: "daytitle" }, "Today"),
      chooser(drawChosen),
      el("div", { id: "tally" }, el("p", {}, "Looking for the box.")),
      el("h3", {}, "To keep and hand over"),
      el("div", { class: "acts papers" }, Object.entries(PAPERS).map(file)),
      title, ...mob,
      el("h2", { id: "maytitle" }, "Who may not go"),
      el("form", { id: "may" },
        el("p", { class: "pick" }, el("label", {}, "On ", el("input", { id: "on", type: "date" }))),
        el("p", { class: "acts" }, el("button", { type: "submit", value: "meat" }, "For meat"), el("button", { type: "submit", value: "export" }, "For export"))),
      el("div", { id: "held", role: "status" })),
    el("div", { id: "jobpart" }));
  for (const id in JUMPS) $(id)?.setAttribute("tabindex", -1);
  prepareHeld();
}

function drawChosen() {
  drawDay();
  drawMob();
}

export async function enter(rest = "") {
  const [part, ...more] = rest.split("/");
  shown = part in PARTS ? part : "";
  $("jobwhole").hidden = shown !== "";
  const place = el("div", { id: "jobpart", hidden: shown === "" });
  $("jobpart").replaceWith(place);
  enter.job = table().job?.job;
  if (!yard.station || $("job").hidden) return;
  if (shown) return PARTS[shown](place, decodeURIComponent(more.join("/")));
  drawOpen($("jobnow"));
  if (await learnJobs()) drawChosen();
}

// Figures cost the box a count: they are drawn while they are looked at, and once for a handful of weighings.
export function draw(what, data) {
  if (what === "state" && !$("job").hidden) {
    if (shown === "") redrawOpen();
    if (shown === "sheet" && enter.job !== table().job?.job) enter(location.hash.slice("#job/".length));
  }
  if (what !== "weighing") return;
  if (data) takeWeighing(data);
  clearTimeout(draw.timer);
  draw.timer = setTimeout(() => yard.station && !$("job").hidden && drawDay(), 300);
}
