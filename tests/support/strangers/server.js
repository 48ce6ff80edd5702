// A receiver by HTTP: the CloudEvents SDK for JavaScript reads what is posted, in whatever mode.
// node server.js PORT: prints "listens", then a line an event.
const { HTTP } = require("cloudevents");

require("http")
  .createServer((request, response) => {
    const parts = [];
    request.on("data", (part) => parts.push(part));
    request.on("end", () => {
      const found = HTTP.toEvent({ headers: request.headers, body: Buffer.concat(parts).toString() });
      for (const event of [found].flat()) {
        event.validate();
        console.log(JSON.stringify({ id: event.id, type: event.type, sequence: event.sequence, data: event.data }));
      }
      response.writeHead(204).end();
    });
  })
  .listen(Number(process.argv[2]), "127.0.0.1", () => console.log("listens"));
