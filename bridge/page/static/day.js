// The day counted up: figures, the distribution, pens and treatments, and the way out as a file.

import { $, drawn, el, say } from "./dom.js";
import { kilos } from "./words.js";

const COUNTS = {
  animals: "animals", untagged: "without a tag", repeats: "weighed again", not_expected: "not on the roster",
  not_seen: "not seen yet", withheld: "withheld", poor: "poor weights", no_weight: "without a weight", voided: "struck out",
};

export async function drawDay(station) {
  const date = $("date").value;
  const query = new URLSearchParams({ ...(station && { station }), ...(date && { day: date }) });
  $("csv").href = `export.csv?${query}`;
  $("jsonl").href = `export.jsonl?${query}`;
  let answer;
  try {
    answer = await (await fetch(`tally?${query}`, { cache: "no-store" })).json();
  } catch {
    return $("tally").replaceChildren(el("p", {}, "The box was not reached."));
  }
  if (!answer.counts) return $("tally").replaceChildren(el("p", {}, answer.text ?? "Nothing to show."));
  if (!date) $("date").value = answer.day;
  say("daytitle", answer.sheets.join(", ") || "The day");
  const { counts, weight, gain } = answer;
  $("tally").replaceChildren(
    el("dl", { class: "figures" },
      Object.entries(COUNTS).filter(([key]) => key === "animals" || counts[key]).map(([key, name]) => figure(name, counts[key]))),
    ...(weight.count ? [
      el("h3", {}, "Weights"),
      el("dl", { class: "figures" }, figure("mean kg", kilos(weight.mean)), figure("median kg", kilos(weight.median)),
        figure("lightest kg", kilos(weight.smallest)), figure("heaviest kg", kilos(weight.largest)),
        weight.sd != null && figure("spread (SD) kg", kilos(weight.sd)), figure("total kg", Math.round(weight.total).toLocaleString()),
        gain.count > 0 && figure("mean gain kg a day", gain.mean.toFixed(2))),
      bars(answer.distribution),
    ] : []),
    table("By pen", ["Pen", "Animals", "Mean kg", "Total kg"],
      Object.entries(answer.by_pen).map(([pen, one]) => [pen, one.count, kilos(one.mean), Math.round(one.total).toLocaleString()])),
    table("Treatments", ["", "Given", "Not given", "mL in all"],
      Object.entries(answer.treatments).map(([name, one]) => [name, one.given, one.skipped, +one.total_ml.toFixed(1)])));
}

const figure = (name, value) => el("div", {}, el("dt", {}, name), el("dd", {}, String(value)));

function table(title, head, rows) {
  if (!rows.length) return "";
  return el("div", {}, el("h3", {}, title), el("table", {},
    el("thead", {}, el("tr", {}, head.map((name) => (name ? el("th", { scope: "col" }, name) : el("td"))))),
    el("tbody", {}, rows.map(([first, ...rest]) =>
      el("tr", {}, el("th", { scope: "row" }, first), rest.map((one) => el("td", {}, String(one))))))));
}

function bars({ start, width, counts }) {
  const most = Math.max(...counts);
  const digits = width < 1 ? 1 : 0;
  const [wide, line] = [340, 26];
  const left = 84;
  const picture = drawn("svg", {
    class: "bars", viewBox: `0 0 ${wide} ${counts.length * line}`, role: "img",
    "aria-label": `Animals by weight, in steps of ${width} kg: ` + counts.map((count, i) => `${(start + i * width).toFixed(digits)} kg ${count}`).join(", "),
  });
  counts.forEach((count, i) => {
    const y = i * line;
    const length = (count / most) * (wide - left - 30);
    const from = (start + i * width).toFixed(digits);
    picture.append(
      drawn("text", { x: left - 8, y: y + 18, "text-anchor": "end" }, `${from} kg`),
      drawn("rect", { x: left, y: y + 3, width: Math.max(length, 1), height: line - 6 }),
      drawn("text", { x: left + length + 6, y: y + 18 }, count ? String(count) : ""));
  });
  return picture;
}
