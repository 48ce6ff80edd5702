// A broker of another make: aedes, of the npm registry.  node broker.js PORT
const aedes = require("aedes")();
require("net")
  .createServer(aedes.handle)
  .listen(Number(process.argv[2]), "127.0.0.1", () => console.log("listens"));
