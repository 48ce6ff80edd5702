// Sounds and buzzes: let it go (two notes up), hold it (three short low ones), withheld (two low, one lower), marked (two high, one low), trouble (one long, falling).
// Browsers make no sound before the first touch; until then the button in the head says so.

import { $, el, kept } from "./dom.js";

const NOISES = {
  settled: { name: "Let it go", notes: [[660, 0, 0.12], [990, 0.13, 0.22]], buzz: [120] },
  tag: { name: "Hold it", notes: [[300, 0, 0.12], [300, 0.2, 0.12], [300, 0.4, 0.12]], buzz: [90, 80, 90, 80, 90] },
  mark: { name: "Marked", notes: [[880, 0, 0.1], [880, 0.15, 0.1], [587, 0.3, 0.3]], buzz: [60, 60, 60, 60, 400] },
  held: { name: "Withheld", notes: [[440, 0, 0.25], [440, 0.35, 0.25], [330, 0.7, 0.4]], buzz: [250, 100, 250] },
  trouble: { name: "Trouble", notes: [[520, 0, 0.35], [260, 0.35, 0.5]], buzz: [600] },
};

const muted = kept.get("muted", {});
let audio = null;

export function noise(which) {
  const { notes, buzz } = NOISES[which];
  if (!muted[`${which} sound`] && audio?.state === "running") notes.forEach(play);
  if (!muted[`${which} buzz`] && navigator.userActivation?.hasBeenActive) navigator.vibrate?.(buzz);
}

function play([pitch, after, length]) {
  const start = audio.currentTime + after;
  const tone = new OscillatorNode(audio, { type: "triangle", frequency: pitch });
  const volume = new GainNode(audio, { gain: 0.9 });
  volume.gain.setValueAtTime(0.9, start + length - 0.04);
  volume.gain.linearRampToValueAtTime(0, start + length);
  tone.connect(volume).connect(audio.destination);
  tone.start(start);
  tone.stop(start + length);
}

function wake() {
  if (!globalThis.AudioContext) return;
  audio ??= new AudioContext();
  audio.resume().then(() => ($("wake").hidden = audio.state === "running"));
}

export function prepare() {
  for (const touch of ["pointerup", "click", "keydown"]) addEventListener(touch, wake); // a finger counts when lifted
  $("wake").addEventListener("click", () => noise("settled"));
}

// The table in which each is muted or not.
export function prepareNoises() {
  const rows = Object.entries(NOISES).map(([which, { name }]) => {
    const box = (kind) => {
      const key = `${which} ${kind}`;
      const input = el("input", { type: "checkbox", "aria-label": `${name}: ${kind}`, checked: !muted[key] });
      input.addEventListener("change", () => {
        muted[key] = !input.checked;
        kept.set("muted", muted);
        if (input.checked) noise(which);
      });
      return el("td", {}, el("label", {}, input));
    };
    return el("tr", {}, el("th", { scope: "row" }, name), box("sound"), box("buzz"));
  });
  const head = el("tr", {}, el("td"), el("th", { scope: "col" }, "Sound"), el("th", { scope: "col" }, "Buzz"));
  return el("table", { id: "noises", class: "noises" }, el("thead", {}, head), el("tbody", {}, rows));
}
