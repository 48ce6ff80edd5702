// What the box says of a sheet: what is wrong, what to look at again, and what it would do.

import { el } from "../../../dom.js";
import { amount, day } from "../../../words.js";
import { TABLES } from "./tables.js";

const PARTS = { details: "Details", limits: "Limits" };

// Sentences, each with the part of the sheet that it is about; `go` opens that part.
export function sentences(told, go) {
  const line = (one) => {
    const part = one.part in TABLES ? TABLES[one.part].title : PARTS[one.part];
    const named = part && one.at !== undefined && one.part in TABLES ? `${part} ${one.at + 1}` : part;
    return el("li", {}, one.text, named && go ? [" ", el("button", { type: "button", onclick: () => go(one.part, one.at) }, named)] : "");
  };
  return el("ul", { class: "sentences" }, told.map(line));
}

export function foreseen({ foreseen: would, caution, summary }) {
  if (!would) return [];
  return [
    el("p", { class: "big" }, summary),
    el("p", {}, expected(would)),
    would.pens.length && would.expected ? el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Heads by pen" }, el("table", {},
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Pen"), el("th", { scope: "col" }, "Heads"))),
      el("tbody", {}, [...would.pens.map(({ pen, heads }) => row(pen, heads)),
        would.open ? row("open until what is needed is given", would.open) : "", would.none ? row("no pen", would.none) : ""]))) : "",
    ...doses(would.doses),
    would.doses.length ? el("p", { class: "quiet" }, caution) : "",
  ];
}

const row = (name, ...cells) => el("tr", {}, el("th", { scope: "row" }, name), cells.map((cell) => el("td", {}, String(cell))));

function expected({ expected: count, weighed, from, to }) {
  if (count === null) return "Nobody knows yet which animals will come.";
  if (!count) return "No animal is expected.";
  const when = from ? (from === to ? `, of ${date(from)}` : `, from ${date(from)} to ${date(to)}`) : "";
  return `${count} ${count === 1 ? "animal" : "animals"} expected; ${weighed} with a last weight${when}.`;
}

const date = (text) => day(`${text}T12:00`);

function doses(treatments) {
  if (!treatments.length) return [];
  const weights = [...new Set(treatments.flatMap(({ rows }) => rows.map(({ kg }) => kg)))].filter((kg) => kg !== null).sort((a, b) => a - b);
  const at = ({ rows }, kg) => rows.find((one) => one.kg === kg || one.kg === null);
  const cell = (one) => (one ? amount(one.amount, one.unit) : "");
  const head = el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "kg"), treatments.map(({ name }) => el("th", { scope: "col" }, name))));
  const lines = weights.length ? weights.map((kg) => row(kg, ...treatments.map((one) => cell(at(one, kg))))) : [row("all", ...treatments.map((one) => cell(one.rows[0])))];
  return [
    el("h3", {}, "Doses"),
    el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Doses by weight" }, el("table", { class: "doses" }, head, el("tbody", {}, lines))),
  ];
}
