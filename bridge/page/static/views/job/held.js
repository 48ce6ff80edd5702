// Who may not go on a day, before trucking: asked of the box, with the access code.

import { $, el } from "../../dom.js";
import { send } from "../../ask.js";
import { day, tagText } from "../../words.js";

function row(one) {
  const name = one.visual ? `Ear ${one.visual}` : one.tag ? tagText(one.tag) : "no tag";
  const why = one.because.map((each) => each.product + (each.given ? `, ${day(`${each.given}T12:00`)}` : "")).join("; ");
  const until = one.until ? `until ${day(`${one.until}T12:00`)}` : "until a date not known";
  return el("li", {}, el("b", {}, name), ` ${until} `, el("span", { class: "quiet" }, why));
}

async function show(event) {
  event.preventDefault();
  const answer = await send({ kind: "withheld", ...($("on").value && { on: $("on").value }), export: event.submitter?.value === "export" });
  if (!answer) return;
  const lines = (answer.text ?? "").split("\n");
  $("held").replaceChildren(
    el("p", { class: "big" }, lines[0]),
    el("ul", { class: "wires" }, (answer.withheld ?? []).map(row)),
    el("p", { class: "quiet" }, lines.at(-1)));
}

export const prepareHeld = () => $("may").addEventListener("submit", show);
