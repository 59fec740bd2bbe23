// How far the making is, told twice a second; the leaf is shown anew when it has ended.
const place = document.getElementById("state");
const EVERY = 500;

const tell = (state) => {
  place.querySelector(".stage").textContent = state.stage || place.querySelector(".stage").textContent;
  place.querySelector("progress").value = state.share;
  const list = place.querySelector(".stages");
  const done = (state.stages || []).slice(0, -1);
  if (list.children.length !== done.length) {
    list.replaceChildren(...done.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
  }
};

const follow = async () => {
  try {
    const answer = await fetch(`/r/${place.dataset.slug}/session/state`);
    const state = await answer.json();
    if (!state.is_running) {
      location.reload();
      return;
    }
    tell(state);
  } catch (error) {
    place.querySelector(".stage").textContent = error.message;
  }
  setTimeout(follow, EVERY);
};

if (place.dataset.running === "yes") setTimeout(follow, EVERY);
