// Keeps the highest revision of every weighing, and writes what is new to weighings.jsonl.  npm install mqtt
import { appendFileSync } from "node:fs";
import mqtt from "mqtt";

const [host = "broker.local", port = "1883"] = process.argv.slice(2);
const weighings = new Map();
const client = mqtt.connect(`mqtt://${host}:${port}`, { clientId: "recorder-js", clean: false });

client.on("connect", () => client.subscribe("neckyoke/+/+/weighing", { qos: 1 }));
client.on("message", (_topic, payload) => {
  const { data } = JSON.parse(payload);
  if (data.revision <= (weighings.get(data.weighing)?.revision ?? 0)) return; // repeated, or outdated
  weighings.set(data.weighing, data);
  appendFileSync("weighings.jsonl", payload + "\n");
});
