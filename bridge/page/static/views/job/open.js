// The job of this station now: begun, paused, gone on with, ended; another sheet, another batch.

import { el, toast } from "../../dom.js";
import { choice, send } from "../../ask.js";
import { talk } from "../../talk.js";
import { table, yard } from "../../yard.js";
import { many } from "../../words.js";
import { pauseParts } from "../now/paused.js";
import { drawSheets } from "./sheet/sheets.js";

const REASONS = ["a person on the platform", "a break", "something to mend"];

async function ask(request) {
  const said = await send({ station: yard.station, ...request });
  if (said && !said.told) toast(said.text);
  return said;
}

const pause = () => talk({
  title: "Pause",
  about: "What stands on the platform is recorded, and counts nowhere. Why?",
  fields: [el("div", { class: "touch" }, REASONS.map((why) => el("button", { type: "submit", name: "why", value: why }, why)))],
  yes: "",
  send: (form) => send({ kind: "pause", station: yard.station, why: form.get("why") }),
});

const end = () => talk({
  title: "End the job",
  about: `${table().job?.text ?? "The job"} ends. It can be opened again.`,
  fields: [],
  yes: "End it",
  stern: true,
  send: () => send({ kind: "end", station: yard.station }),
});

const batch = () => talk({
  title: "Another batch",
  about: "It holds from the next animal on.",
  fields: [
    choice("treatment", "Of which treatment?", table().treatments ?? []),
    el("label", {}, "Batch", el("input", { name: "batch", maxlength: 64, autocomplete: "off" })),
    el("label", {}, "Last day it may be used", el("input", { name: "expires", type: "date" })),
    el("label", {}, "Another product (empty: the same)", el("input", { name: "product", maxlength: 64, autocomplete: "off" })),
  ],
  yes: "Use it",
  send: (form) => {
    const given = Object.fromEntries(["batch", "expires", "product"].map((key) => [key, form.get(key)]).filter(([, value]) => value));
    return send({ kind: "batch", station: yard.station, treatment: form.get("treatment"), ...given });
  },
});

// Draws the job, and the sheets to begin with where none is open.
export function drawOpen(place) {
  const sheets = document.getElementById("sheetlist") ?? el("div", { id: "sheetlist" });
  place.replaceChildren(el("div", { id: "openjob" }, jobNow()), sheets);
  drawOpen.job = table().job?.job;
  redrawOpen.last = "";
  if (table().job) return sheets.replaceChildren();
  drawSheets(sheets);
}

// Draws only the job, when the box tells that it stands otherwise.
export function redrawOpen() {
  const place = document.getElementById("openjob");
  const spelled = JSON.stringify([table().job, table().sheet, table().counts, table().treatments]);
  if (!place || redrawOpen.last === spelled) return;
  if (drawOpen.job !== table().job?.job) return drawOpen(place.parentNode); // begun or ended: with sheets, or without
  redrawOpen.last = spelled;
  const focused = place.contains(document.activeElement) ? document.activeElement.textContent : null;
  place.replaceChildren(...jobNow());
  [...place.querySelectorAll("button")].find((one) => one.textContent === focused)?.focus();
}

function jobNow() {
  const { job, sheet, counts = {}, treatments = [] } = table();
  const button = (text, act, kind) => el("button", { type: "button", class: kind ?? "", onclick: act }, text);
  if (!job) {
    return [
      el("h2", {}, "No job is open"),
      el("p", {}, sheet ? `${sheet} is kept for the next one.` : "Pick a sheet, or begin without one. The first animal begins one by itself."),
      el("div", { class: "acts" },
        sheet ? button(`Begin ${sheet}`, () => ask({ kind: "begin" }), "main wide") : "",
        button("Begin without a sheet", () => ask({ kind: "begin", bare: true })),
        button("Open the last job again", () => ask({ kind: "resume" }))),
    ];
  }
  const paused = job.state === "paused";
  const seen = many(counts.animals ?? 0, "animal") + (counts.expected == null ? "" : `; ${counts.not_seen} of ${counts.expected} still to come`);
  return [
    el("h2", {}, `Job ${job.turn}`),
    el("p", { class: "big" }, sheet || "No sheet: weights and tags only."),
    el("div", { class: "paused" }, pauseParts(job).filter(Boolean)),
    el("p", {}, `${/begun [^,]+/.exec(job.text)?.[0].replace("b", "B") ?? job.text}. ${seen}.`),
    el("div", { class: "acts" },
      paused ? "" : button("Pause", pause),
      treatments.length ? button("Another batch", batch) : "",
      el("a", { class: "button", href: "#job/sheets" }, "Sheets"),
      button("End the job", end, "stern")),
  ];
}
