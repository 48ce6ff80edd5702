// The pictures of the job or day, drawn by the box as SVG: the same that stand on its paper.

import { read } from "../../ask.js";
import { el } from "../../dom.js";
import { query } from "./chosen.js";

const NAMES = { weights: "Weights", gains: "Gains", "then-and-now": "Weight against last weight" };

// Gives what to show, once it is all there.
export async function pictures() {
  const answer = (await read(`pictures?${query()}`)) ?? {};
  return Object.keys(NAMES).filter((name) => answer[name]).map((name) =>
    el("figure", {}, el("figcaption", {}, NAMES[name]), picture(answer[name])));
}

function picture(text) {
  return document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
}
