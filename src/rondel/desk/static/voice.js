// Every cue read into the microphone, heard in its place, and done again at will.
import { NoAnswer, ask } from "./asking.js";
import { hearFrom } from "./piece.js";

const list = document.querySelector(".cues");
const slug = list.dataset.slug;
const still = window.matchMedia("(prefers-reduced-motion: reduce)");
let busy = null; // the recording under way

const can = navigator.mediaDevices && navigator.mediaDevices.getUserMedia && window.MediaRecorder;
if (!can) document.getElementById("no-microphone").hidden = false;

const begin = async (row) => {
  const button = row.querySelector(".record");
  let stream;
  busy = { stop: () => {} }; // asked for: the microphone answers later
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
  } catch {
    document.getElementById("no-microphone").hidden = false;
    busy = null;
    return;
  }
  const recorder = new MediaRecorder(stream);
  const parts = [];
  const meter = new AudioContext();
  const heights = new Float32Array(1024);
  const analyser = meter.createAnalyser();
  analyser.fftSize = 1024;
  meter.createMediaStreamSource(stream).connect(analyser);
  const bar = row.querySelector(".bar");
  const show = () => {
    if (busy !== recorder) return;
    analyser.getFloatTimeDomainData(heights);
    const peak = heights.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
    bar.style.width = `${Math.min(100, Math.max(0, (20 * Math.log10(peak + 1e-5) + 60) / 0.6))}%`;
    if (still.matches) setTimeout(show, 500);
    else requestAnimationFrame(show);
  };
  recorder.addEventListener("dataavailable", (event) => parts.push(event.data));
  recorder.addEventListener("stop", async () => {
    busy = null;
    stream.getTracks().forEach((track) => track.stop());
    meter.close();
    bar.style.width = "0";
    await send(row, new Blob(parts, { type: recorder.mimeType }));
  });
  busy = recorder;
  recorder.start();
  button.textContent = list.dataset.wordsStop;
  button.setAttribute("aria-pressed", "true");
  show();
};

const send = async (row, blob) => {
  const button = row.querySelector(".record");
  const told = row.querySelector(".told");
  button.textContent = list.dataset.wordsAgain;
  button.setAttribute("aria-pressed", "false");
  told.textContent = list.dataset.wordsWait;
  waits.set(row, blob);
  try {
    const answer = await ask(`/bring/${slug}/voice/${row.dataset.cue}`, { method: "POST", body: blob });
    const said = await answer.json();
    told.textContent = said.trouble || [said.says, ...(said.notes || [])].join(" ");
    if (said.counted) document.getElementById("counted").textContent = said.counted;
    if (answer.status < 500) {
      waits.delete(row);
      row.querySelector(".again")?.remove();
    } else offerAgain(row);
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
    told.textContent = list.dataset.wordsKept;
    offerAgain(row);
  }
};

// What could not be sent waits, to be sent again.
const waits = new Map();
const offerAgain = (row) => {
  if (row.querySelector(".again")) return;
  const button = Object.assign(document.createElement("button"), { type: "button", className: "word again", textContent: list.dataset.wordsSend });
  button.addEventListener("click", () => send(row, waits.get(row)));
  row.querySelector(".record").after(button);
};
addEventListener("beforeunload", (event) => { if (waits.size) event.preventDefault(); });

const hear = async (row) => {
  try {
    await hearFrom(slug, Number(row.dataset.at) - 1.5, "&own=1");
    row.dataset.heard = "yes";
  } catch (error) {
    row.querySelector(".told").textContent = error.message;
  }
};

for (const row of list.children) {
  row.querySelector(".record").addEventListener("click", () => {
    if (busy) busy.stop();
    else if (can) begin(row);
  });
  row.querySelector(".place").addEventListener("click", () => hear(row));
}
