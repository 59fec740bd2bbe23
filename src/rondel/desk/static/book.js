// The open book: choose a passage, change it, hear it; the window stays where it is.
import { live } from "./figure.js";
import { Hearing } from "./hear.js";

const main = document.getElementById("main");
let figure = { move: () => {}, end: () => {} };
let hearing = null;

const page = () => document.getElementById("page");
const rows = () => JSON.parse(document.getElementById("rows").textContent);

// ------------------------------------------------ putting what came into the book
const put = (text, address) => {
  const found = new DOMParser().parseFromString(text, "text/html");
  const came = found.getElementById("main");
  if (!came) throw new Error("this is no page of the book");
  if (!found.getElementById("page")) {
    if (hearing && hearing.isPlaying) hearing.stop();
    figure.end();
    document.querySelector(".book").className = found.querySelector(".book").className;
    main.replaceChildren(...came.childNodes);
    document.getElementById("hear").hidden = true;
    main.focus();
    return;
  }
  const focus = document.activeElement;
  const again = focus && (focus.id ? `#${focus.id}` : focus.name && focus.value !== undefined ? `[name="${focus.name}"][value="${CSS.escape(focus.value)}"]` : null);
  const open = [...main.querySelectorAll("details")].map((d) => d.open);
  const inWords = focus && focus.dataset && focus.dataset.p ? `a[data-p="${came.querySelector("#page").dataset.chosen}"]` : null;
  main.replaceChildren(...came.childNodes);
  [...main.querySelectorAll("details")].forEach((d, i) => { if (open[i]) d.open = true; });
  const head = found.querySelector(".subtitle");
  if (head) document.querySelector(".subtitle").textContent = head.textContent;
  if (address) history.replaceState(null, "", address);
  ready();
  const target = main.querySelector(inWords || again || "#page") || page();
  if (target) target.focus({ preventScroll: true });
};

const ask = async (address, options, waiting) => {
  const place = waiting && waiting.querySelector(".waiting");
  if (place) place.textContent = waiting.dataset.waits || "";
  main.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(address, options);
    const text = await answer.text();
    put(text, answer.ok && answer.redirected ? answer.url : options ? null : address);
  } catch (error) {
    if (place) place.textContent = "";
    throw error;
  } finally {
    main.removeAttribute("aria-busy");
  }
};

const choose = (id) => {
  const here = page();
  if (!id || id === here.dataset.chosen) return;
  ask(`/r/${here.dataset.slug}/?p=${encodeURIComponent(id)}`);
};

const step = (by) => {
  const all = rows();
  const at = all.findIndex((row) => row.id === page().dataset.chosen);
  const to = all[Math.min(all.length - 1, Math.max(0, at + by))];
  choose(to.id);
};

// ------------------------------------------------ once the book has changed
const ready = () => {
  figure.end();
  const frame = main.querySelector(".figure-frame");
  figure = live(frame, () => hearing && hearing.isPlaying);
  const known = new Set(rows().map((row) => row.id));
  for (const passage of main.querySelectorAll(".page .passage")) {
    const id = passage.id.replace("slip-", "");
    passage.addEventListener("click", () => choose(known.has(id) ? id : below(id)));
  }
  if (hearing) hearing.changed({ page: page(), rows: rows() });
  later(8);
};

// What could stand instead comes a little later where it takes time to work out.
const later = async (times) => {
  const place = document.getElementById("instead");
  if (!place || !place.hasAttribute("data-later") || times <= 0) return;
  await new Promise((done) => setTimeout(done, 300));
  const id = page().dataset.chosen;
  const answer = await fetch(`/r/${page().dataset.slug}/?p=${encodeURIComponent(id)}`);
  const came = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("instead");
  if (came && page() && page().dataset.chosen === id && place.isConnected) {
    place.replaceWith(came);
    later(times - 1);
  }
};

// A layer over the peak is chosen by what it lies over.
const below = (id) => {
  const start = document.getElementById(id).dataset.start;
  const under = rows().find((row) => Math.abs(row.start - Number(start)) < 0.01);
  return under && under.id;
};

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-p]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  choose(link.dataset.p);
});

main.addEventListener("keydown", (event) => {
  if (event.target !== page() || event.ctrlKey || event.metaKey || event.altKey) return;
  const does = {
    ArrowRight: () => step(1), ArrowDown: () => step(1), ArrowLeft: () => step(-1), ArrowUp: () => step(-1),
    Home: () => step(-1e6), End: () => step(1e6), Enter: () => document.getElementById("passage").querySelector("button")?.focus(),
    " ": () => hearing && hearing.toggle(),
  }[event.key];
  if (!does) return;
  event.preventDefault();
  does();
});

main.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  event.preventDefault();
  const data = new URLSearchParams(new FormData(form, event.submitter));
  ask(form.getAttribute("action"), { method: "POST", body: data }, form);
});

hearing = new Hearing({
  button: document.getElementById("hear"),
  quick: document.getElementById("quick"),
  page: page(),
  rows: rows(),
  light: () => JSON.parse(document.getElementById("light").textContent),
  chosen: () => page().dataset.chosen,
  pass: (id) => choose(id),
  move: (phase) => figure.move(phase),
});
ready();
document.documentElement.dataset.ready = "yes";
