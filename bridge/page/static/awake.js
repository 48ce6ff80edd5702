// Keeps the screen awake while the page is open and seen.
//
// Browsers lend a wake lock only to pages of a secure origin, and a box in a shed speaks plain HTTP.  There a picture that moves
// does it: a screen does not go to sleep while a video plays on it.  The video is a canvas of two pixels, painted once in
// a second: no file, no sound, and next to no work.

let lock = null;

async function lent() {
  if (document.hidden || (lock && !lock.released)) return;
  lock = await navigator.wakeLock.request("screen").catch(() => null); // on an almost empty battery it is not lent
}

function play() {
  const canvas = Object.assign(document.createElement("canvas"), { width: 2, height: 2 });
  const pen = canvas.getContext("2d");
  const video = Object.assign(document.createElement("video"), { id: "awake", muted: true, playsInline: true, tabIndex: -1 });
  video.setAttribute("aria-hidden", "true");
  let light = false;
  const paint = () => {
    pen.fillStyle = (light = !light) ? "#000" : "#010101";
    pen.fillRect(0, 0, 2, 2);
  };
  paint();
  video.srcObject = canvas.captureStream(1);
  document.body.append(video);
  setInterval(() => document.hidden || paint(), 1000);
  const start = () => document.hidden || video.play().catch(() => {}); // some want a touch first
  for (const sign of ["visibilitychange", "pointerup", "keydown"]) document.addEventListener(sign, () => video.paused && start());
  start();
}

export function stayAwake() {
  if (globalThis.isSecureContext && navigator.wakeLock) {
    document.addEventListener("visibilitychange", lent);
    lent();
  } else if (HTMLCanvasElement.prototype.captureStream) {
    play();
  }
}
