// The view *now*: the sign, what is seen of the animal by touch, what was recorded last, and what can be done for it.

import { el } from "../../dom.js";
import { here, table, view, yard } from "../../yard.js";
import { acts } from "./acts.js";
import { drawRows, openCard } from "./rows.js";
import { drawFindings } from "./see.js";
import { drawCount, drawPlaces, drawSign } from "./sign.js";
import { drawTroubles } from "./troubles.js";
import { drawQuestion } from "./which.js";

const DOCK = { note: "Note", number: "Ear number", skip: "Not given", void: "Strike out" };

export function prepare(place) {
  place.append(el("div", { class: "dock", role: "group", "aria-label": "For the animal here" },
    Object.entries(DOCK).map(([act, text]) => el("button", { type: "button", "data-act": act, onclick: () => acts[act]() }, text))));
}

function drawNow() {
  const shown = view();
  const settled = yard.settled[yard.station];
  const known = settled && settled.number === shown?.number ? settled : null;
  drawSign(shown, known, yard.near, here().at(-1));
  const stands = yard.near && shown?.weighing && ["standing", "settled", "leaving"].includes(shown.state);
  drawQuestion(shown?.question);
  drawFindings(yard.station, table().findings,
    stands ? { weighing: shown.weighing, findings: known?.findings, redraw: drawNow } : null);
}

export function draw(what) {
  drawNow();
  if (what === "live" || what === "near") return;
  drawRows(here(), (id) => openCard(yard.weighings.get(id), yard.sentences, acts));
  drawCount(table().counts);
  drawPlaces(table().places);
  drawTroubles();
}
