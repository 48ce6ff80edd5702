// Which job of this station is looked at: the last one unless a person chose another; or a day, as for weighings of before
// there were jobs.  Figures, lists and files of the view all ask with `query()`.

import { read } from "../../ask.js";
import { $, el } from "../../dom.js";
import { yard } from "../../yard.js";

const DAY = "day";
let picked = null; // a job's id, or DAY; null: the last job, or today where there is none
let day = ""; // the day that a person asked for; without one it is today, also after midnight
let jobs = [];
let of = null; // the station whose jobs these are

export const chosenJob = () => (picked === DAY ? null : jobs.find((one) => one.job === picked) ?? jobs.at(-1) ?? null);

export function query(more = {}) {
  const job = chosenJob();
  return new URLSearchParams({ station: yard.station, ...(job ? { job: job.job } : day && { day }), ...more });
}

// The day that the box says it is, where none was chosen.
export function seenDay(said) {
  if (said) $("date").value = said;
}

export function chooser(chose) {
  const dates = el("input", { id: "date", type: "date", onchange: () => { day = dates.value; chose(); } });
  const which = el("select", { id: "whichjob", onchange: () => { picked = which.value; drawChooser(); chose(); } });
  return el("div", { class: "pick" },
    el("label", { hidden: true }, "Which job ", which), el("label", { id: "ofday" }, "Day ", dates));
}

function drawChooser() {
  const which = $("whichjob");
  which.closest("label").hidden = !jobs.length;
  const options = [...jobs].reverse().map((one) => el("option", { value: one.job }, one.text));
  which.replaceChildren(...options, el("option", { value: DAY }, "A day …"));
  which.value = chosenJob()?.job ?? DAY;
  $("ofday").hidden = !!chosenJob();
}

// Asks the box which jobs there are; gives whether it was let.
export async function learnJobs() {
  const station = yard.station;
  const answer = await read(`jobs?${new URLSearchParams({ station })}`);
  if (!answer) return false;
  if (of !== station) picked = null;
  of = station;
  jobs = answer.jobs ?? [];
  drawChooser();
  return true;
}
