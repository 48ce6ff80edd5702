// The pictures of the job or day, drawn by the box as SVG: the same that stand on its paper.

import { read } from "../../ask.js";
import { el } from "../../dom.js";
import { query } from "./chosen.js";

const NAMES = { weights: "Weights", gains: "Gains", "then-and-now": "Weight against last weight" };

let turn = 0;

export async function drawPictures(place) {
  const mine = ++turn;
  const answer = await read(`pictures?${query()}`);
  if (mine !== turn || !answer) return;
  const drawn = Object.keys(NAMES).filter((name) => answer[name]).map((name) =>
    el("figure", {}, el("figcaption", {}, NAMES[name]), picture(answer[name])));
  place.replaceChildren(...drawn);
}

function picture(text) {
  return document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
}
