// Findings: what a person sees of the animal, a row of large buttons each.  One touch gives it, another takes it back.

import { $, el, toast } from "../../dom.js";
import { send } from "../../ask.js";
import { valueText } from "../../words.js";

const told = new Map(); // weighing id -> finding -> value, what this phone said until the box says it back

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

// The values that stand: what the box knows, and over it what was just said here.
function standing(weighing, findings) {
  const values = new Map((findings ?? []).map((one) => [one.name, { value: one.value, by: one.by }]));
  for (const [name, value] of told.get(weighing) ?? []) values.set(name, { value, by: "person" });
  return values;
}

async function say(station, animal, name, value) {
  const mine = told.get(animal.weighing) ?? new Map();
  told.set(animal.weighing, mine.set(name, value));
  if (told.size > 20) told.delete(told.keys().next().value);
  animal.redraw();
  const answer = await send({ kind: "finding", station, weighing: animal.weighing, name, value });
  if (!answer?.done) {
    mine.delete(name);
    if (answer) toast(answer.text);
  }
  animal.redraw();
}

// The value after a touch: of several, with or without the one touched; of one, it, or nothing when it was it.
export function touched(asked, now, choice) {
  if (asked.several) {
    const chosen = Array.isArray(now?.value) ? now.value : [];
    const without = chosen.filter((one) => !same(one, choice));
    const next = without.length < chosen.length ? without : asked.choices.filter((one) => same(one, choice) || chosen.some((had) => same(had, one)));
    return next.length ? next : null;
  }
  return now?.by === "person" && same(now.value, choice) ? null : choice;
}

function row(station, animal, asked, now) {
  const buttons = asked.choices.map((choice) => {
    const on = asked.several ? Array.isArray(now?.value) && now.value.some((one) => same(one, choice)) : now != null && now.value !== null && same(now.value, choice);
    return el("button", {
      type: "button", "aria-pressed": String(on), class: on && now?.by !== "person" ? "usual" : "",
      onclick: () => say(station, animal, asked.name, touched(asked, now, choice)),
    }, valueText(choice));
  });
  const name = asked.needed && now?.by !== "person" ? `${asked.name}: needed` : asked.name;
  return el("fieldset", { class: "see" }, el("legend", {}, name), el("div", { class: "touch" }, buttons));
}

// Draws the rows for the animal here; `animal` is { weighing, findings, redraw } or null when nobody stands there.
export function drawFindings(station, asked, animal) {
  const rows = (asked ?? []).filter((one) => one.kind === "choice");
  const place = $("see");
  place.hidden = !animal || !rows.length;
  if (place.hidden) {
    drawFindings.last = "";
    return;
  }
  const values = standing(animal.weighing, animal.findings);
  const spelled = JSON.stringify([station, animal.weighing, rows, [...values]]);
  if (drawFindings.last === spelled) return;
  drawFindings.last = spelled;
  const focused = [...place.querySelectorAll("button")].indexOf(document.activeElement);
  place.replaceChildren(...rows.map((one) => row(station, animal, one, values.get(one.name))));
  if (focused >= 0) place.querySelectorAll("button")[focused]?.focus();
}
