// The view *now*: the sign, what is seen of the animal by touch, what was recorded last, and what can be done for it.

import { $, el } from "../../dom.js";
import { here, table, touched, view, yard } from "../../yard.js";
import { acts } from "./acts.js";
import { drawAgain } from "./again.js";
import { openCard } from "./card.js";
import { drawPaused } from "./paused.js";
import { drawRows } from "./rows.js";
import { drawFindings } from "./see.js";
import { drawCount, drawPlaces, drawSign } from "./sign.js";
import { speakSettled } from "./speak.js";
import { drawTroubles } from "./troubles.js";
import { drawQuestion } from "./which.js";

const DOCK = { note: "Note", number: "Ear number", skip: "Not given", void: "Strike out" };

export function prepare(place) {
  place.append(el("div", { class: "dock", role: "group", "aria-label": "For the animal here" },
    Object.entries(DOCK).map(([act, text]) => el("button", { type: "button", "data-act": act, onclick: () => acts[act]() }, text))));
}

let drawn = null; // the number of the animal of which the sign tells all

function drawNow() {
  const shown = view();
  const settled = yard.settled[yard.station];
  const known = settled && settled.number === shown?.number ? settled : null;
  const still = touched() && (shown?.number ?? drawn) === drawn;
  drawSign(shown, known, yard.near, here().at(-1), still);
  if (!still) drawn = shown?.number ?? null;
  if (touched()) return; // drawn when it is lifted
  const stands = yard.near && shown?.weighing && ["standing", "settled", "leaving"].includes(shown.state);
  drawTroubles();
  drawQuestion(shown?.question);
  drawAgain(stands ? known : null);
  drawFindings($("see"), table().findings,
    stands ? { station: yard.station, weighing: shown.weighing, findings: known?.findings, redraw: drawNow } : null);
}

export function draw(what, data) {
  drawNow();
  if (what === "settled") speakSettled(data);
  if (["live", "near", "settled"].includes(what)) return;
  drawPaused();
  drawRows(here(), openCard);
  drawCount(table().counts);
  drawPlaces(table().places);
}
