// The sign read aloud, for eyes that are on the animal: weight, pen and doses, once, when it has settled.
// Off until somebody wants it; only by a voice that lives on this phone, for the yard has no internet; silent without one.

import { el, kept } from "../../dom.js";
import { kilos, spokenDose } from "../../words.js";
import { yard } from "../../yard.js";

let wanted = kept.get("speech", false);

const language = () => document.documentElement.lang;
export const voice = () => globalThis.speechSynthesis?.getVoices().find((one) => one.localService && one.lang.startsWith(language())) ?? null;

export function spoken({ weight, pen, may_leave: may, missing, treatments, withheld }) {
  const parts = [`${weight.kg == null ? "No weight" : `${kilos(weight.kg).replace(/\.0$/, "")} kilos`}`];
  if (!may) parts.push(missing?.length ? `Hold it: ${missing.join(" and ")} missing` : withheld?.length ? "Hold it: withheld" : "Hold it");
  if (pen) parts.push(`Pen ${pen}`);
  for (const one of treatments ?? []) parts.push(`${one.name}: ${spokenDose(one)}`);
  return `${parts.join(". ")}.`;
}

function aloud(text) {
  const found = voice();
  if (!wanted || !found) return;
  speechSynthesis.cancel(); // the animal before is not of interest any more
  const said = new SpeechSynthesisUtterance(text);
  said.voice = found;
  said.lang = found.lang;
  speechSynthesis.speak(said);
}

export function speakSettled(data) {
  if (data.station === yard.station) aloud(spoken(data));
}

export function prepareSpeech() {
  const box = el("input", { type: "checkbox", checked: wanted, onchange: () => {
    kept.set("speech", (wanted = box.checked));
    if (wanted) aloud("It will be read aloud.");
    tell();
  } });
  const hint = el("p", { class: "quiet", role: "status" });
  const tell = () => (hint.textContent = wanted && !voice() ? "This phone has no voice of its own in this language: it stays silent." : "");
  globalThis.speechSynthesis?.addEventListener?.("voiceschanged", tell);
  tell();
  return el("div", {}, el("label", { class: "pick", id: "speech" }, box, "Read weight, pen and dose aloud"), hint);
}
