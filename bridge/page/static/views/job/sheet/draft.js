// The sheet that is being made or changed on this phone; kept, so that a call or a flat battery does not cost it.

import { kept } from "../../../dom.js";

// file and was: which sheet it changes, and the digest that it had; copy: the one it begins as; form: its values; roster: another
// one that goes with it (its content in base64 is too large to be kept).
export const draft = { file: null, was: null, copy: null, form: null, roster: null, changed: false };

export function begin(form, { file = null, was = null, copy = null } = {}) {
  Object.assign(draft, { file, was, copy, form: structuredClone(form), roster: null, changed: false });
  keep();
}

export function change() {
  draft.changed = true;
  keep();
}

export function keep() {
  const { file, was, copy, form, changed } = draft;
  kept.set("draft", form && changed ? { file, was, copy, form } : null);
}

export function forget() {
  Object.assign(draft, { file: null, was: null, copy: null, form: null, roster: null, changed: false });
  kept.set("draft", null);
}

// Takes up what was left; gives whether there was anything.
export function takeUp() {
  const left = kept.get("draft", null);
  if (!draft.form && left?.form) Object.assign(draft, left, { roster: null, changed: true });
  return Boolean(draft.form && draft.changed);
}

// What the box is asked about it.
export const asked = (kind) => ({
  kind, form: draft.form,
  ...(draft.file && { file: draft.file, was: draft.was }),
  ...(draft.copy && { copy_of: draft.copy }),
  ...(draft.roster && { roster: draft.roster.content, roster_name: draft.roster.name }),
});

export function set(table, key, value) {
  if (value === undefined || value === "") delete table[key];
  else table[key] = value;
  change();
}
