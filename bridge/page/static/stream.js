// The line to the box: begins with all there is now, then follows the stream, and dials again by itself.
// `last` is the sequence of the latest event had; whatever happens, the next line goes on after it.  The box tells first
// what was missed, then what is now: until then events are `past`, news of animals that have long gone.

const SILENT_MS = 5000; // three beats missed
const AGAIN_MS = 1500;
const RECENT = 24; // events that are told again to one who begins: pen and doses of the animal that stands there are among them

export function follow(told) {
  let source = null;
  let last = null;
  let heard = 0;
  let near = null;
  let trying = false;
  let past = true;

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
      last = Math.max(0, all.sequence - RECENT);
      mark(true); // it answered
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
    past = true;
    source = new EventSource(`events?after=${last}`);
    source.onmessage = ({ lastEventId, data }) => {
      heard = Date.now();
      if (Number(lastEventId) <= last) return;
      last = Number(lastEventId);
      told.event(JSON.parse(data), past);
    };
    const now = (name, act) => source.addEventListener(name, ({ data }) => {
      past = false;
      act(JSON.parse(data));
      mark(true);
    });
    now("live", told.live);
    now("state", told.state);
    now("beat", () => {});
    source.addEventListener("afresh", begin);
    source.onerror = () => { // the browser dials again, with Last-Event-ID
      past = true;
      mark(false);
    };
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
