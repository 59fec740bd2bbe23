// The open book: choose a passage, change it, hear it; the window stays where it is.
import { ask, pageOf, quietly, tell } from "./asking.js";
import { isHers } from "./fields.js";
import { live } from "./figure.js";
import { Hearing } from "./hear.js";
import { again, open, opened, putAround } from "./redraw.js";

const main = document.getElementById("main");
let figure = { move: () => {}, end: () => {} };
let hearing = null;
let goesOn = false; // to be heard from where she chooses
let asked = 0; // answers come in any order: only the one that was asked for last is drawn

const page = () => document.getElementById("page");
const leaf = () => document.getElementById("passage");
const rows = () => JSON.parse(document.getElementById("rows").textContent);
const isShown = () => leaf().dataset.p === page().dataset.chosen;
const isHeard = () => Boolean(hearing && hearing.isPlaying);

// ------------------------------------------------ putting what came into the book
// After a change of hers: all of it, and the focus where it was, or where that is now.
const putAll = (found, address) => {
  const [mine, came] = [page(), found.getElementById("page")];
  const focus = again(document.activeElement);
  const was = opened(main);
  for (const { name, value } of came.attributes) mine.setAttribute(name, value);
  mine.replaceChildren(...came.childNodes);
  leaf().replaceWith(found.getElementById("passage"));
  putAround(mine, came);
  open(main, was);
  const head = found.querySelector(".subtitle");
  if (head) document.querySelector(".subtitle").textContent = head.textContent;
  if (address) stand(address);
  ready();
  if (document.activeElement === mine) return;
  const target = (focus && main.querySelector(focus)) || mine;
  (target.disabled ? mine : target).focus({ preventScroll: true });
};

// What is no page of the book, as two versions side by side, takes its place.
const putOther = (found) => {
  const came = found.getElementById("main");
  if (!came) throw new Error("this is no page of the book");
  if (isHeard()) hearing.stop();
  figure.end();
  document.querySelector(".book").className = found.querySelector(".book").className;
  main.replaceChildren(...came.childNodes);
  document.getElementById("hear").hidden = true;
  main.focus();
};

const putLeaf = (found) => {
  const was = opened(leaf());
  leaf().dataset.p = found.getElementById("passage").dataset.p;
  leaf().replaceChildren(...found.getElementById("passage").childNodes);
  open(leaf(), was);
  readyLeaf();
};

const stand = (address) => {
  const here = new URL(address, location.href);
  here.searchParams.delete("said"); // looked at again, it is no news
  history.replaceState(null, "", here);
};

// ------------------------------------------------ choosing
const mark = (id) => {
  page().dataset.chosen = id;
  page().setAttribute("aria-activedescendant", `option-${id}`);
  for (const one of page().querySelectorAll("[role=option]")) one.setAttribute("aria-selected", String(one.dataset.p === id));
  for (const one of page().querySelectorAll(".passage")) one.classList.toggle("chosen", one.id.replace("slip-", "") === id);
  for (const one of main.querySelectorAll(".passages a")) {
    if (one.dataset.p === id) one.setAttribute("aria-current", "true");
    else one.removeAttribute("aria-current");
  }
  for (const field of main.querySelectorAll(".steps [name=p]")) field.value = id;
};

// Draw the right leaf of the passage that is marked. Unasked, only where she is not in the midst of it.
const drawLeaf = async (isAsked) => {
  const mine = ++asked;
  const address = addressOf(page().dataset.chosen);
  const found = await pageOf(await ask(address));
  if (mine !== asked || !page() || (!isAsked && isHers(leaf()))) return false;
  const came = found.getElementById("page");
  if (!came) {
    if (isAsked) putOther(found);
  } else if (came.dataset.version === page().dataset.version) {
    putLeaf(found);
    if (isAsked) leaf().scrollTop = 0; // its name and figure first, not the middle of the one before
    stand(address);
  } else if (isAsked) putAll(found, address);
  return true;
};

const addressOf = (id) => `/r/${page().dataset.slug}/?p=${encodeURIComponent(id)}`;

const choose = (id, isPressed = false) => {
  if (!id || (id === page().dataset.chosen && isShown())) return;
  if (isHeard()) {
    hearing.leave();
    goesOn = true;
  }
  mark(id);
  tell(wordsOf(id));
  quietly(drawLeaf(true).then((isDrawn) => {
    if (isDrawn && isPressed) comeToLeaf();
    if (!isDrawn || !goesOn) return;
    goesOn = false;
    if (page() && !isHeard()) hearing.play();
  }));
};

const wordsOf = (id) => {
  const link = main.querySelector(`.passages a[data-p="${CSS.escape(id)}"]`);
  const [at, name, facts] = [".at", ".name", ".facts"].map((part) => link.querySelector(part));
  const spoken = name.cloneNode(true); // in the routine's language, the rest in the desk's
  return [`${at.textContent} `, spoken, ...(facts.textContent ? [`, ${facts.textContent}`] : [])];
};

// What is heard goes on by itself: it is marked, and she stays where she is.
const pass = (id) => {
  mark(id);
  catchUp();
};

const catchUp = () => {
  if (page() && !isShown() && !isHers(leaf())) quietly(drawLeaf(false));
};

const step = (by) => {
  const all = rows();
  const at = all.findIndex((row) => row.id === page().dataset.chosen);
  choose(all[Math.min(all.length - 1, Math.max(0, at + by))].id);
};

// ------------------------------------------------ changing
const change = async (form, submitter) => {
  const place = form.querySelector(".waiting");
  if (place) place.textContent = form.dataset.waits || "";
  main.setAttribute("aria-busy", "true");
  try {
    const body = new URLSearchParams(new FormData(form, submitter));
    const answer = await ask(form.getAttribute("action"), { method: "POST", body });
    asked += 1;
    const found = await pageOf(answer);
    if (!found.getElementById("page")) {
      putOther(found);
      return;
    }
    putAll(found, answer.ok && answer.redirected ? answer.url : null);
    tellNews();
  } catch (error) {
    if (place) place.textContent = "";
    throw error;
  } finally {
    main.removeAttribute("aria-busy");
  }
};

// What came of a change comes into the window; why it was refused gets the focus, too, so that what
// can be done instead is next by keyboard.
const tellNews = () => {
  const place = leaf().querySelector(".news");
  bringIntoView(place, place.offsetHeight > window.innerHeight ? "start" : "nearest");
  if (place.querySelector(":scope > .trouble")) place.focus({ preventScroll: true });
  const news = [...place.children].map((part) => part.cloneNode(true));
  news.forEach((part) => part.querySelectorAll("details").forEach((d) => d.remove()));
  tell(news.length ? news.filter((part) => !part.matches("details")) : main.querySelector(".last").textContent);
};

// ------------------------------------------------ once the book has changed
const ready = () => {
  if (hearing) hearing.changed({ page: page(), rows: rows() });
  readyLeaf();
};

const readyLeaf = () => {
  figure.end();
  figure = live(main.querySelector(".figure-frame"), () => isHeard() && isShown());
  quietly(later());
};

// What could stand instead comes a little later where it takes time to work out; asked for less and
// less often, as long as this passage is looked at.
const OFTEN = 300; // milliseconds
const SELDOM = 3000;
const LONG = 120000; // after which nothing more is expected
const versionIn = (book) => book.getElementById("page")?.dataset.version;
const later = async (pause = OFTEN, waited = 0) => {
  const place = document.getElementById("instead");
  if (!place || !place.hasAttribute("data-later") || waited > LONG) return;
  await new Promise((done) => setTimeout(done, pause));
  if (!place.isConnected) return;
  const found = await pageOf(await ask(addressOf(leaf().dataset.p)));
  if (!place.isConnected) return;
  const came = found.getElementById("instead");
  if (!came || versionIn(found) !== versionIn(document)) return; // changed elsewhere meanwhile
  place.replaceWith(came);
  await later(Math.min(SELDOM, 1.3 * pause), waited + pause);
};

// A layer over the peak is chosen by what it lies over.
const below = (passage) => {
  const under = rows().find((row) => Math.abs(row.start - Number(passage.dataset.start)) < 0.01);
  return under && under.id;
};

page().addEventListener("click", (event) => {
  const passage = event.target.closest(".passage, [role=option]");
  if (!passage) return;
  const id = passage.dataset.p || passage.id.replace("slip-", "");
  choose(rows().some((row) => row.id === id) ? id : below(passage), true);
});

// Where the leaf lies below the page, as on a telephone, a passage that is pressed leads to it.
const comeToLeaf = () => {
  const place = leaf();
  if (!place || place.getBoundingClientRect().top < 0.75 * window.innerHeight) return;
  bringIntoView(place, "start");
};

const bringIntoView = (place, block) => {
  const isStill = matchMedia("(prefers-reduced-motion: reduce)").matches;
  place.scrollIntoView({ block, behavior: isStill ? "auto" : "smooth" });
};

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-p]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  choose(link.dataset.p);
});

main.addEventListener("focusout", (event) => {
  const place = leaf();
  if (place && place.contains(event.target) && !place.contains(event.relatedTarget)) setTimeout(catchUp);
});

main.addEventListener("keydown", (event) => {
  if (event.target !== page() || event.ctrlKey || event.metaKey || event.altKey) return;
  const does = {
    ArrowRight: () => step(1), ArrowDown: () => step(1), ArrowLeft: () => step(-1), ArrowUp: () => step(-1),
    Home: () => step(-1e6), End: () => step(1e6), Enter: () => leaf().querySelector("button")?.focus(),
    " ": () => hearing && hearing.toggle(),
  }[event.key];
  if (!does) return;
  event.preventDefault();
  does();
});

main.addEventListener("submit", (event) => {
  if (event.target.method !== "post" || event.target.dataset.leads) return; // elsewhere
  event.preventDefault();
  quietly(change(event.target, event.submitter));
});

hearing = new Hearing({
  button: document.getElementById("hear"),
  quick: document.getElementById("quick"),
  page: page(),
  rows: rows(),
  light: () => JSON.parse(document.getElementById("light").textContent),
  chosen: () => page().dataset.chosen,
  pass,
  move: (phase) => { if (isShown()) figure.move(phase); },
});
ready();
document.documentElement.dataset.ready = "yes";
