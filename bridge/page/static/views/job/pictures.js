// The pictures of the job or day, drawn by the box as SVG: the same that stand on its paper.

import { read } from "../../ask.js";
import { el, svg } from "../../dom.js";
import { query } from "./chosen.js";

const NAMES = { weights: "Weights", gains: "Gains", "then-and-now": "Weight against last weight", mob: "The mob over its jobs" };

// Gives what to show, once it is all there.
export async function pictures() {
  const answer = (await read(`pictures?${query()}`)) ?? {};
  return Object.keys(NAMES).filter((name) => answer[name]).map((name) =>
    el("figure", {}, el("figcaption", {}, NAMES[name]), svg(answer[name])));
}
