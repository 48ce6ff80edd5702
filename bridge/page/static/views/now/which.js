// The box's question: which animal is this?  One touch replies; until then nothing changes but a flag.

import { $, el, toast } from "../../dom.js";
import { send } from "../../ask.js";

const RULES = "Local rules decide whether and how a replaced tag must be reported.";

async function reply(question, choice) {
  const answer = await send({ kind: "reply", question: question.id, choice });
  if (answer) toast(answer.text);
}

export function drawQuestion(question) {
  const place = $("which");
  const spelled = JSON.stringify(question ?? null);
  if (drawQuestion.last === spelled) return;
  drawQuestion.last = spelled;
  place.hidden = !question;
  if (!question) return;
  const buttons = question.choices.map((choice) => el("button", { type: "button", onclick: () => reply(question, choice) }, choice));
  place.replaceChildren(el("fieldset", { class: "see" },
    el("legend", {}, question.text), el("div", { class: "touch" }, buttons), el("p", { class: "quiet" }, RULES)));
}
