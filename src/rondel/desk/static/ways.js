// How far the planning is; when it has ended, what came of it takes its place.
import { NoAnswer, ask, pageOf, tell } from "./asking.js";

const EVERY = 250;
const place = document.getElementById("ways");
const slug = location.pathname.split("/")[2];

const drawNew = async () => {
  const came = (await pageOf(await ask(location.pathname))).getElementById("ways");
  const hadFocus = place.contains(document.activeElement);
  place.replaceChildren(...came.childNodes);
  if (hadFocus) document.getElementById("main").focus({ preventScroll: true });
  const said = [...place.querySelectorAll(":scope > [role=status], :scope > .trouble")];
  tell(said.length ? said.map((one) => one.cloneNode(true)) : place.dataset.done);
};

const follow = async () => {
  const working = place.querySelector(".working");
  if (!working) return;
  try {
    const state = (await (await ask(`/r/${slug}/working`)).json())[working.dataset.about];
    if (!state || !state.is_running) {
      await drawNew();
      return;
    }
    if (state.stage) working.querySelector(".stage").textContent = state.stage;
    working.querySelector("progress").value = state.share;
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
  }
  setTimeout(follow, EVERY);
};

setTimeout(follow, EVERY);
