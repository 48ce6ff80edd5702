// The line to the box: begins with all there is now, then follows the stream, and dials again by itself.
// `last` is the sequence of the latest event had; whatever happens, the next line goes on after it.

const SILENT_MS = 6500; // three beats missed
const AGAIN_MS = 1500;

export function follow(told) {
  let source = null;
  let last = null;
  let heard = 0;
  let near = null;
  let trying = false;

  function mark(isNear) {
    if (isNear) heard = Date.now();
    if (near !== isNear) told.near((near = isNear));
  }

  async function begin() {
    if (trying) return;
    trying = true;
    heard = Date.now();
    try {
      const answer = await fetch("now", { cache: "no-store", signal: AbortSignal.timeout(5000) });
      if (!answer.ok) throw new Error(answer.status);
      const all = await answer.json();
      last = all.sequence;
      told.begin(all);
      dial();
    } catch {
      mark(false);
    } finally {
      trying = false;
    }
  }

  function dial() {
    source?.close();
    heard = Date.now();
    source = new EventSource(`events?after=${last}`);
    const on = (name, act) => source.addEventListener(name, (event) => { mark(true); act(event); });
    on("message", (event) => {
      const sequence = Number(event.lastEventId);
      if (sequence <= last) return;
      last = sequence;
      told.event(JSON.parse(event.data));
    });
    on("live", (event) => told.live(JSON.parse(event.data)));
    on("state", (event) => told.state(JSON.parse(event.data)));
    on("beat", () => {});
    on("afresh", begin);
    source.onerror = () => mark(false); // the browser dials again, with Last-Event-ID
  }

  function look() {
    const silent = Date.now() - heard;
    if (silent > SILENT_MS) mark(false);
    if (last === null) {
      if (silent > AGAIN_MS) begin();
    } else if (silent > SILENT_MS || source?.readyState === EventSource.CLOSED) {
      dial();
    }
  }

  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && Date.now() - heard > 3000) last === null ? begin() : dial();
  });
  addEventListener("online", () => (last === null ? begin() : dial()));
  setInterval(look, 500);
  begin();
}
