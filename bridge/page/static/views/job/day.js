// The job or day counted up: figures, pictures, pens and treatments.

import { read } from "../../ask.js";
import { $, el, say } from "../../dom.js";
import { amount, kilos } from "../../words.js";
import { query, seenDay } from "./chosen.js";
import { pictures } from "./pictures.js";

const COUNTS = {
  animals: "animals", untagged: "without a tag", repeats: "weighed again", not_expected: "not on the roster",
  not_seen: "not seen yet", withheld: "withheld", poor: "poor weights", no_weight: "without a weight", voided: "struck out",
};

let turn = 0;

export async function drawDay() {
  const mine = ++turn;
  const answer = await read(`tally?${query()}`);
  if (mine !== turn || !answer) return; // another job, day or station was asked for meanwhile
  if (!answer.counts) return $("tally").replaceChildren(el("p", {}, answer.text ?? "Nothing to show."));
  seenDay(answer.day);
  say("daytitle", `Figures: ${answer.sheets.join(", ") || "the day"}`);
  const { counts, weight, gain } = answer;
  const drawn = weight.count ? await pictures() : []; // before what stands there goes: nothing flickers
  if (mine !== turn) return;
  $("tally").replaceChildren(
    el("dl", { class: "figures" },
      Object.entries(COUNTS).filter(([key]) => key === "animals" || counts[key]).map(([key, name]) => figure(name, counts[key]))),
    ...lookAt(answer.look_at),
    ...(weight.count ? [
      el("h3", {}, "Weights"),
      el("dl", { class: "figures" }, figure("mean kg", kilos(weight.mean_kg)), figure("median kg", kilos(weight.median_kg)),
        figure("lightest kg", kilos(weight.min_kg)), figure("heaviest kg", kilos(weight.max_kg)),
        weight.sd_kg != null && figure("spread (SD) kg", kilos(weight.sd_kg)), figure("total kg", whole(weight.total_kg)),
        gain.count > 0 && figure("mean gain kg a day", gain.mean_kg_per_day.toFixed(2))),
      el("div", { class: "pictures" }, drawn),
    ] : []),
    table("By pen", ["Pen", "Animals", "Mean kg", "Total kg"],
      Object.entries(answer.by_pen).map(([pen, one]) => [pen, one.count, kilos(one.mean_kg), whole(one.total_kg)])),
    table("Treatments", ["", "Given", "Not given", "In all"],
      answer.treatments.map((one) => [one.name, one.given, one.skipped, inAll(one)])),
    ...Object.entries(answer.by_finding).map(([name, values]) => table(`Seen: ${name}`, ["", "Animals", "Mean kg"],
      Object.entries(values).map(([value, one]) => [value, one.animals, kilos(one.weight.mean_kg)]))),
    el("p", { class: "quiet" }, answer.cautions.join(" ")));
}

// What a person should look at, and what would settle it.
const lookAt = (lines) => (lines.length ? [
  el("h3", {}, "Look at these"),
  el("ul", { class: "look" }, lines.map(({ what, settle, animals }) =>
    el("li", {}, el("b", {}, `${animals.length} ${what}: `), animals.map((one) => one.name).join(", "), el("p", {}, `To settle it: ${settle}.`)))),
] : []);

const inAll = ({ totals }) => totals.map((one) => amount(one.amount, one.unit)).join(", ");
const whole = (kg) => Math.round(kg).toLocaleString();
const figure = (name, value) => el("div", {}, el("dt", {}, name), el("dd", {}, String(value)));

function table(title, head, rows) {
  if (!rows.length) return "";
  return el("div", {}, el("h3", {}, title), el("table", {},
    el("thead", {}, el("tr", {}, head.map((name) => (name ? el("th", { scope: "col" }, name) : el("td"))))),
    el("tbody", {}, rows.map(([first, ...rest]) =>
      el("tr", {}, el("th", { scope: "row" }, first), rest.map((one) => el("td", {}, String(one))))))));
}
