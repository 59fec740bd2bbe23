// Files brought in, with how much of them is here; and work under way in the background. When work
// ends only what it was about is drawn anew, and nothing that she is in the midst of.
import { ask, noAnswer, pageOf, quietly, tell } from "./asking.js";
import { isHers } from "./fields.js";
import { ready } from "./music.js";
import { offer } from "./offer.js";

const EVERY = 700;
const slug = location.pathname.split("/")[2];
const words = document.querySelector(".bring").dataset;
let coming = 0; // uploads under way

addEventListener("beforeunload", (event) => { if (coming) event.preventDefault(); });

for (const form of document.querySelectorAll(".bring")) {
  const input = form.querySelector("input[type=file]");
  const place = form.querySelector(".waiting");
  const bar = form.querySelector("progress");
  const end = (says) => {
    coming -= 1;
    bar.hidden = true;
    input.value = "";
    input.disabled = false;
    place.textContent = says;
  };
  input.addEventListener("change", () => {
    const [file] = input.files;
    if (!file) return;
    const request = new XMLHttpRequest();
    request.open("POST", `${form.dataset.to}?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.addEventListener("progress", (event) => {
      bar.hidden = false;
      if (event.lengthComputable) bar.value = event.loaded / event.total;
    });
    request.addEventListener("load", () => {
      const told = toldIn(request);
      end(told.trouble || "");
      if (request.status === 200) quietly(look(form.dataset.to, told.name));
    });
    request.addEventListener("error", () => {
      end("");
      noAnswer();
    });
    place.textContent = form.dataset.going;
    coming += 1;
    request.send(file);
    input.disabled = true;
  });
}

const toldIn = (request) => {
  if (request.status === 403) {
    noAnswer();
    return {};
  }
  try {
    return JSON.parse(request.responseText);
  } catch {
    return { trouble: request.statusText };
  }
};

// What was brought is looked at straight away.
const look = async (to, name) => {
  const [, , , kind] = to.split("/");
  await ask(`/r/${slug}/${kind === "take" ? "takes/watch" : "music/listen"}`, { method: "POST", body: new URLSearchParams({ name }) });
  await drawNew([name]);
};

// ------------------------------------------------ one article drawn anew
const articles = (place) => [...place.querySelectorAll("article.track")];
const named = (place, name) => articles(place).find((article) => article.dataset.name === name);

const fetched = async () => pageOf(await ask(location.pathname));

// Draw the articles of these names anew, and put those in that were not here.
const drawNew = async (names, isForced = false) => {
  const found = await fetched();
  for (const name of names) {
    const [mine, came] = [named(document, name), named(found, name)];
    if (!came) continue;
    if (!mine) put(came, found);
    else if (!isForced && isHers(mine)) offer(mine, words.show, () => quietly(drawNew([name], true)));
    else {
      const hadFocus = mine.contains(document.activeElement);
      mine.replaceWith(came);
      begun(came);
      if (hadFocus) {
        came.tabIndex = -1;
        came.focus({ preventScroll: true });
      }
    }
  }
};

const put = (came, found) => {
  const next = articles(found)[articles(found).indexOf(came) + 1];
  const before = next && named(document, next.dataset.name);
  document.querySelector("section.left > .empty")?.remove();
  if (before) before.before(came);
  else (articles(document).pop() || document.querySelector(".bring")).after(came);
  begun(came);
};

const begun = (article) => {
  ready(article);
  if (article.querySelector(".working")) follow();
};

document.addEventListener("submit", (event) => {
  const place = event.target.querySelector(".waiting");
  if (event.target.dataset.waits && place) place.textContent = event.target.dataset.waits;
});

// ------------------------------------------------ how far it is
let isFollowing = false;
const follow = async () => {
  if (isFollowing) return;
  isFollowing = true;
  try {
    while (document.querySelector(".working:not([data-ended])")) {
      await new Promise((done) => setTimeout(done, EVERY));
      await quietly(ask(`/r/${slug}/working`).then((answer) => answer.json()).then(lookAround));
    }
  } finally {
    isFollowing = false;
  }
};

const lookAround = async (told) => {
  const ended = [];
  for (const place of document.querySelectorAll(".working:not([data-ended])")) {
    const state = told[place.dataset.about];
    if (state && state.is_running) {
      if (state.stage) place.querySelector(".stage").textContent = state.stage;
      place.querySelector("progress").value = state.share;
    } else ended.push(place);
  }
  const names = ended.map((place) => place.closest("article").dataset.name);
  if (!names.length) return;
  await drawNew(names);
  ended.forEach((place) => { place.dataset.ended = "yes"; });
  tell(words.here.replace("{name}", names.join(", ")));
};

articles(document).forEach(ready);
follow();
