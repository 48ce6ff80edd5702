// The last few weighings, a touch on each opens its card.

import { $, el } from "../../dom.js";
import { GRADES, flagText, kilos, named } from "../../words.js";

const SHOWN = 30;
export const struck = (one) => one.flags.includes("voided");

export const grade = (name) => el("span", { class: `grade ${name}` }, GRADES[name].split(":")[0]);
export const flag = (name) => el("span", { class: "flag" }, flagText(name));

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

// What an animal is called in a list: an untagged one by its ear number, if somebody gave it one.
export function nameOf(one) {
  const nameless = !one.animal?.visual && !one.tag;
  return [nameless ? null : named(one), one.pen].filter(Boolean).join(" · ");
}

export function row(one, key, open) {
  return el("li", { "data-key": key, class: struck(one) ? "struck" : "" },
    el("button", { type: "button", onclick: () => open(one.weighing) },
      el("span", { class: "no" }, String(one.job_number ?? one.number)),
      el("span", { class: "kilos" }, kilos(one.weight.kg), el("small", {}, " kg")),
      grade(one.weight.grade),
      el("span", { class: "name" }, nameOf(one)),
      one.flags.length > 0 && el("span", { class: "flags" }, one.flags.map(flag)),
      one.notes.length > 0 && el("span", { class: "notes" }, one.notes.flatMap((note) => ["“", el("bdi", {}, note), "” "]))));
}
