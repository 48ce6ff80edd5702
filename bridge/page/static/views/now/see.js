// Findings: what a person sees of the animal, a row of large buttons each.  One touch gives it, another takes it back.
// A number goes up and down by its step; words said before are offered again, and a button opens the keyboard.

import { send, talk } from "../../ask.js";
import { el, kept, toast } from "../../dom.js";
import { valueText } from "../../words.js";

const told = new Map(); // weighing id -> finding -> value, what this phone said until the box says it back

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

// The values that stand: what the box knows, and over it what was just said here.
function standing(weighing, findings) {
  const values = new Map((findings ?? []).map((one) => [one.name, { value: one.value, by: one.by }]));
  for (const [name, value] of told.get(weighing) ?? []) values.set(name, { value, by: "person" });
  return values;
}

async function say(animal, name, value) {
  const mine = told.get(animal.weighing) ?? new Map();
  told.set(animal.weighing, mine.set(name, value));
  if (told.size > 20) told.delete(told.keys().next().value);
  animal.redraw();
  const answer = await send({ kind: "finding", station: animal.station, weighing: animal.weighing, name, value });
  if (!answer?.done) {
    mine.delete(name);
    if (answer) toast(answer.text);
  }
  animal.redraw();
  return answer;
}

// What was taken back is no more what this phone says: the box's word counts again.
export function forget(weighing) {
  told.delete(weighing);
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

function choices(animal, asked, now) {
  return asked.choices.map((choice) => {
    const on = asked.several ? Array.isArray(now?.value) && now.value.some((one) => same(one, choice)) : now != null && now.value !== null && same(now.value, choice);
    return el("button", {
      type: "button", "aria-pressed": String(on), class: on && now?.by !== "person" ? "usual" : "",
      onclick: () => say(animal, asked.name, touched(asked, now, choice)),
    }, valueText(choice));
  });
}

const waiting = new Map(); // a number that is being stepped to: said when the finger has rested
const begun = new Map(); // finding -> the value said last on this phone, to begin from
const phrases = (name) => kept.get(`words ${name}`, []);

function step(animal, asked, now, by) {
  const key = `${animal.weighing} ${asked.name}`;
  const from = waiting.get(key)?.value ?? now?.value ?? begun.get(asked.name) ?? asked.usual ?? (asked.low + asked.high) / 2;
  const steps = Math.round((from - asked.low) / asked.step) + by;
  const value = Number(Math.min(asked.high, Math.max(asked.low, asked.low + steps * asked.step)).toFixed(6));
  clearTimeout(waiting.get(key)?.timer);
  waiting.set(key, { value, timer: setTimeout(() => { waiting.delete(key); say(animal, asked.name, value); }, 700) });
  begun.set(asked.name, value);
  return value;
}

const unit = (asked) => (asked.unit ? ` ${asked.unit}` : "");

// A number with many steps: down, what stands, up; a touch on what stands opens the keyboard.
function number(animal, asked, now) {
  const has = now != null && now.value !== null;
  const shown = el("button", { type: "button", "aria-pressed": String(has), class: has && now.by !== "person" ? "usual" : "",
    onclick: () => talk({
      title: asked.name,
      about: "",
      fields: [el("label", {}, `${asked.name}${unit(asked)}`,
        el("input", { name: "value", inputmode: "decimal", autocomplete: "off", required: true, pattern: "-?[0-9]+([.,][0-9]+)?", title: "a number" }))],
      yes: "Write it down",
      send: (form) => say(animal, asked.name, Number(form.get("value").replace(",", "."))),
    }) }, has ? `${valueText(now.value)}${unit(asked)}` : "…");
  const by = (sign, steps) => el("button", { type: "button", "aria-label": `${asked.name} ${sign === "+" ? "up" : "down"}`,
    onclick: () => { shown.textContent = `${step(animal, asked, now, steps)}${unit(asked)}`; } }, sign);
  return asked.step ? [by("−", -1), shown, by("+", 1)] : [shown];
}

// Words: those said before are offered again, and a button opens the keyboard.
function words(animal, asked, now) {
  const value = now?.value ?? null;
  const again = phrases(asked.name).map((text) => el("button", { type: "button", "aria-pressed": String(text === value), onclick: () => say(animal, asked.name, text === value ? null : text) }, text));
  const other = value !== null && !phrases(asked.name).includes(value);
  const type = el("button", { type: "button", "aria-pressed": String(other), onclick: () => talk({
    title: asked.name,
    about: "",
    fields: [el("label", {}, asked.name, el("textarea", { name: "value", rows: 2, maxlength: 200, required: true }))],
    yes: "Write it down",
    send: (form) => {
      const text = form.get("value").replace(/\s+/g, " ").trim();
      if (text.length <= 30) kept.set(`words ${asked.name}`, [text, ...phrases(asked.name).filter((one) => one !== text)].slice(0, 6));
      return say(animal, asked.name, text);
    },
  }) }, other ? value : "Words …");
  return [...again, type, other && el("button", { type: "button", onclick: () => say(animal, asked.name, null) }, "Take back")];
}

const KINDS = { choice: choices, number, words };

export function row(animal, asked, now) {
  const name = asked.needed && now?.by !== "person" ? `${asked.name}: needed` : asked.name;
  return el("fieldset", { class: "see" }, el("legend", {}, name),
    el("div", { class: "touch" }, KINDS[asked.kind](animal, asked, now)));
}

// Draws the rows for one animal into a place; `animal` is { station, weighing, findings, redraw }, null when nobody is there.
export function drawFindings(place, asked, animal) {
  const rows = asked ?? [];
  place.hidden = !animal || !rows.length;
  if (place.hidden) {
    place.dataset.spelled = "";
    return place.replaceChildren();
  }
  const values = standing(animal.weighing, animal.findings);
  const spelled = JSON.stringify([animal.weighing, rows, [...values]]);
  if (place.dataset.spelled === spelled) return;
  place.dataset.spelled = spelled;
  const focused = [...place.querySelectorAll("button")].indexOf(document.activeElement);
  place.replaceChildren(...rows.map((one) => row(animal, one, values.get(one.name))));
  if (focused >= 0) place.querySelectorAll("button")[focused]?.focus();
}
