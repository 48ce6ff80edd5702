// A receiver of another language: MQTT.js takes what comes, the CloudEvents SDK for JavaScript reads and checks it.
// node subscriber.js URL VERSION: prints "subscribed", then a line an event.
const mqtt = require("mqtt");
const { CloudEvent, MQTT } = require("cloudevents");
const [url, version] = process.argv.slice(2);
const client = mqtt.connect(url, { protocolVersion: Number(version), clientId: "stranger", reconnectPeriod: 200 });

client.on("connect", () => client.subscribe("neckyoke/#", { qos: 1 }, () => console.log("subscribed")));
client.on("message", (topic, payload, packet) => {
  if (/\/(status|platform)$/.test(topic)) return; // no events
  const text = payload.toString();
  const event =
    version === "5"
      ? MQTT.toEvent({
          PUBLISH: { "Content Type": packet.properties.contentType },
          headers: packet.properties.userProperties ?? {},
          body: text,
        })
      : new CloudEvent(JSON.parse(text));
  event.validate();
  console.log(JSON.stringify({ topic, id: event.id, type: event.type, sequence: event.sequence, data: event.data }));
});
