// What is wrong, until it is over.

import { $, drawn, el, show } from "../../dom.js";
import { stateText } from "../../words.js";
import { yard } from "../../yard.js";

export function drawTroubles() {
  const away = Object.entries(yard.state.links ?? {}).filter(([, one]) => one.state && one.state !== "up");
  const texts = [
    ...(yard.state.troubles ?? []).map((one) => one.text),
    ...away.map(([name, one]) => `${name} is ${stateText(one.state)}${one.text ? `: ${one.text}` : "."}`),
  ];
  show("troubles", texts.length > 0);
  const spelled = texts.join("\n");
  if (drawTroubles.last === spelled) return;
  drawTroubles.last = spelled;
  const mark = () => drawn("svg", { "aria-hidden": "true" }, drawn("use", { href: "#shape-trouble" }));
  $("troubles").replaceChildren(...texts.map((text) => el("p", {}, mark(), text)));
}
