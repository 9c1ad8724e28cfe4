// Labels before the camera. Where the browser reads codes by itself it does; else single frames go to the service, which
// reads them and keeps none.

/** Time between two looks, ms: of the browser's own, and of the service's. */
const PAUSE_MS = 250;
const SENT_PAUSE_MS = 900;
/** A frame is made no wider than this, px: a code that fills a third of it is read. */
const FRAME_PX = 960;

/** Reads with what the browser has; gives the address that a label opens, or nothing. */
async function ownReader() {
  if (!("BarcodeDetector" in window)) return null;
  const known = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
  if (!known.includes("qr_code")) return null;
  const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
  return async (video) => {
    const [found] = await detector.detect(video).catch(() => []);
    return found ? `/field?tag=${encodeURIComponent(found.rawValue)}` : null;
  };
}

/** The same by the service. */
async function sentReader(video) {
  const share = Math.min(1, FRAME_PX / Math.max(video.videoWidth, video.videoHeight, 1));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(video.videoWidth * share));
  canvas.height = Math.max(1, Math.round(video.videoHeight * share));
  canvas.getContext("2d").drawImage(video, 0, 0, canvas.width, canvas.height);
  const frame = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.8));
  const form = new FormData(document.querySelector("form.label-photo"));
  form.set("photo", frame, "frame.jpg");
  const response = await fetch("/field/label", { method: "POST", body: form });
  if (response.status === 422 || response.status === 503) return null;
  if (response.ok && response.redirected) return response.url;
  throw new Error(`The service answered ${response.status}.`);
}

async function scan(place, button) {
  const video = document.createElement("video");
  const told = document.createElement("p");
  told.setAttribute("role", "status");
  place.replaceChildren(video, told);
  place.hidden = false;
  const stop = () => video.srcObject?.getTracks().forEach((track) => track.stop());
  try {
    video.srcObject = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    video.playsInline = true;
    video.muted = true;
    await video.play();
    const own = await ownReader();
    told.textContent = "Hold the label before the camera.";
    button.hidden = true;
    for (;;) {
      const to = await (own ?? sentReader)(video);
      if (to) {
        stop();
        location.assign(to);
        return;
      }
      await new Promise((resolve) => setTimeout(resolve, own ? PAUSE_MS : SENT_PAUSE_MS));
    }
  } catch {
    const hasCamera = video.srcObject !== null;
    stop();
    video.remove();
    button.hidden = false;
    told.textContent = hasCamera
      ? "Without signal this browser reads no labels: type the tag that stands on it."
      : "The camera cannot be used: type the tag, or take a photo of the label below.";
  }
}

/** Offers to scan where there is a camera to be asked for. */
export function offerCamera() {
  const button = document.querySelector("button.camera");
  if (!button || !navigator.mediaDevices?.getUserMedia) return;
  button.hidden = false;
  button.addEventListener("click", () => scan(document.getElementById("camera"), button));
}
