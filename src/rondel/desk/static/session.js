// How far the making is, told twice a second; when it has ended, what came of it takes its place.
import { NoAnswer, ask, pageOf, quietly, tell } from "./asking.js";
import { isHers } from "./fields.js";
import { offer } from "./offer.js";

const place = document.getElementById("state");
const EVERY = 500;

const show = (state) => {
  place.querySelector(".stage").textContent = state.stage || place.querySelector(".stage").textContent;
  place.querySelector("progress").value = state.share;
  const list = place.querySelector(".stages");
  const done = (state.stages || []).slice(0, -1);
  if (list.children.length !== done.length) {
    list.replaceChildren(...done.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
  }
};

// What she looks at (a film that plays) or is in the midst of stays until she wants the new one.
const drawNew = async (isForced) => {
  const found = await pageOf(await ask(location.pathname));
  for (const name of ["#state", "section.left"]) {
    const [mine, came] = [document.querySelector(name), found.querySelector(name)];
    const isBusy = isHers(mine) || [...mine.querySelectorAll("video, audio")].some((media) => !media.paused);
    if (isBusy && !isForced) offer(mine, place.dataset.show, () => quietly(drawNew(true)));
    else {
      const hadFocus = mine.contains(document.activeElement);
      mine.replaceChildren(...came.childNodes);
      if (hadFocus) document.getElementById("main").focus({ preventScroll: true });
    }
  }
  tell([...place.querySelectorAll(":scope > .done, :scope > .trouble")].map((one) => one.cloneNode(true)));
};

const follow = async () => {
  try {
    const state = await (await ask(`/r/${place.dataset.slug}/session/state`)).json();
    if (!state.is_running) {
      await drawNew(false);
      return;
    }
    show(state);
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
  }
  setTimeout(follow, EVERY);
};

if (place.dataset.running === "yes") setTimeout(follow, EVERY);
