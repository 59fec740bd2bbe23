// A few seconds of the routine, heard from a place on: for buttons that say where.
import { ask, troubleOf } from "./asking.js";

let context = null;

export const hearFrom = async (slug, from, more = "") => {
  if (context) context.close();
  const mine = new AudioContext({ sampleRate: 48000 });
  context = mine;
  const answer = await ask(`/r/${slug}/sound?from=${Math.max(0, from)}&seconds=9${more}`);
  if (!answer.ok) throw new Error(await troubleOf(answer));
  const buffer = await mine.decodeAudioData(await answer.arrayBuffer());
  if (context !== mine) return;
  const source = mine.createBufferSource();
  source.buffer = buffer;
  source.connect(mine.destination);
  source.start();
};

for (const button of document.querySelectorAll(".hear-from")) {
  button.addEventListener("click", async () => {
    button.setAttribute("aria-busy", "true");
    try {
      await hearFrom(button.dataset.slug, Number(button.dataset.from));
      button.dataset.heard = "yes";
    } catch (error) {
      button.parentElement.querySelector(".waiting").textContent = error.message;
    } finally {
      button.removeAttribute("aria-busy");
    }
  });
}
