// One treatment as a person thinks of it (how much, for whom, in which unit) and as a sheet spells it; pure.

export const UNITS = ["mL", "L", "mg", "g", "kg", "tablet", "capsule", "bolus", "implant", "sachet", "device", "dose"];
export const HOW = { each: "the same for each", kg: "for each kg", step: "for each step of weight" };
const KEYS = {
  ml: { each: "ml", kg: "ml_per_kg", step: "ml_per_step", least: "at_least_ml", most: "at_most_ml", mark: "round_to_ml" },
  amount: { each: "amount", kg: "amount_per_kg", step: "amount_per_step", least: "at_least", most: "at_most", mark: "round_to" },
};
const OURS = new Set(Object.values(KEYS).flatMap(Object.values).concat("unit"));

const family = (treatment) => (Object.values(KEYS.amount).some((key) => key in treatment) || "unit" in treatment ? "amount" : "ml");

// What a sheet says, as { how, amount, unit, least, most, mark, … } with all else as it is.
export function gathered(treatment) {
  const keys = KEYS[family(treatment)];
  const how = ["step", "kg"].find((one) => keys[one] in treatment) ?? "each";
  const rest = Object.fromEntries(Object.entries(treatment).filter(([key]) => !OURS.has(key)));
  return {
    ...rest, how, amount: treatment[keys[how]], unit: treatment.unit ?? "mL",
    least: treatment[keys.least], most: treatment[keys.most], mark: treatment[keys.mark],
  };
}

// The other way round; spelled as it was where the unit allows it.
export function spread({ how, amount, unit, least, most, mark, ...rest }, was = {}) {
  const as = unit === "mL" && family(was) === "ml" ? "ml" : "amount";
  const keys = KEYS[as];
  const by = how === "each" ? {} : { [keys.least]: least, [keys.most]: most, [keys.mark]: mark };
  if (how === "each") delete rest.dose_to_heaviest;
  if (how !== "step") delete rest.step_kg;
  return said({ ...rest, [keys[how]]: amount, ...(as === "amount" && { unit }), ...by });
}

// Only what is said: nothing of a field that was left empty.
export const said = (table) =>
  Object.fromEntries(Object.entries(table).filter(([, value]) => value !== undefined && value !== "" && value !== null && value !== false));
