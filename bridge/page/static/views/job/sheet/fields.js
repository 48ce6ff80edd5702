// Fields to fill in, made from what they are called, and read back as what they mean.

import { el } from "../../../dom.js";

let made = 0;

// A number as it was typed, comma or point; what is none stays as it is, and the box says what is wrong with it.
export function numeric(text) {
  const plain = text.trim().replace(",", ".");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : text.trim();
}

// One field: { key, name, kind, hint, of, list }.  Kinds: text, number, date, tick, pick (one of `of`), touch (the same, as
// buttons), lines (a line each).
export function field({ key, name, kind = "text", hint, of = [], list }, value) {
  const told = hint ? el("span", { class: "hint" }, hint) : "";
  if (kind === "tick") {
    return el("label", { class: "pick" }, el("input", { type: "checkbox", name: key, checked: value === true }), el("span", {}, name, told));
  }
  if (kind === "touch") {
    return el("fieldset", { class: "see" }, el("legend", {}, name), told,
      el("div", { class: "radios" }, of.map(([choice, text]) =>
        el("label", {}, el("input", { type: "radio", name: key, value: choice, checked: choice === (value ?? "") }), el("span", {}, text)))));
  }
  if (kind === "pick") {
    return el("label", {}, name, told, el("select", { name: key }, of.map(([choice, text]) => el("option", { value: choice, selected: choice === (value ?? "") }, text))));
  }
  if (kind === "lines") {
    const area = el("textarea", { name: key, rows: 4, maxlength: 4000, autocomplete: "off" });
    area.value = (value ?? []).map(String).join("\n");
    return el("label", {}, name, told, area);
  }
  const attributes = { name: key, maxlength: 200, autocomplete: "off", ...(kind === "number" && { inputmode: "decimal" }), ...(kind === "date" && { type: "date" }) };
  const input = el("input", attributes);
  input.value = value === undefined || value === null ? "" : String(value);
  if (!list) return el("label", {}, name, told, input);
  const id = `offered${++made}`;
  input.setAttribute("list", id);
  return el("label", {}, name, told, input, el("datalist", { id }, list.map((one) => el("option", { value: one }))));
}

// What stands in the fields of a form, by key; undefined for what was left empty.
export function typed(form, fields) {
  const found = {};
  for (const { key, kind = "text" } of fields) {
    const text = String(form.get(key) ?? "");
    if (kind === "tick") found[key] = form.has(key) || undefined;
    else if (kind === "number") found[key] = text.trim() === "" ? undefined : numeric(text);
    else if (kind === "lines") found[key] = lines(text);
    else found[key] = text.trim() || undefined;
  }
  return found;
}

export const lines = (text) => text.split("\n").map((line) => line.trim()).filter(Boolean);
