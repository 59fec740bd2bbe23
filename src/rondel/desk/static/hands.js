// The hands: the cards are found while she types, the figure is drawn while she says how it goes.
import { ask, quietly } from "./asking.js";
import { live } from "./figure.js";

const PAUSE = 250; // after the last letter, in milliseconds
let figure = { end: () => {} };
let asked = 0;
let timer = 0;

const move = () => {
  figure.end();
  figure = live(document.querySelector("#drawn .figure-frame"), () => false);
};

// ------------------------------------------------ the cards
const find = document.getElementById("find");

const look = async () => {
  const mine = ++asked;
  const address = `${find.getAttribute("action")}?${new URLSearchParams(new FormData(find))}`;
  const answer = await ask(address);
  const came = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("found");
  if (mine !== asked || !answer.ok || !came) return;
  document.getElementById("found").replaceChildren(...came.childNodes);
  history.replaceState(null, "", address);
};

// ------------------------------------------------ the form
const teach = document.getElementById("teach");

// What the body does not allow stands beside the field that it is about.
const tell = (drawn) => {
  const why = (list) => new Map([...drawn.querySelectorAll(`${list} li`)].map((row) => [row.dataset.field, row]));
  const [limits, remarks] = [why("#limits"), why("#remarks")];
  for (const place of teach.querySelectorAll(".refused")) {
    const key = place.id.replace("why-", "");
    const row = limits.get(key) || remarks.get(key);
    place.classList.toggle("remark", !limits.has(key));
    place.replaceChildren(row ? row.textContent : "");
    if (row && row.dataset.source) {
      const source = document.createElement("span");
      source.className = "source";
      source.textContent = ` ${row.dataset.source}`;
      place.append(source);
    }
    for (const field of teach.querySelectorAll(`[data-key="${key}"]`)) {
      if (limits.has(key)) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
  }
};

const draw = async () => {
  const mine = ++asked;
  const place = document.getElementById("drawn");
  const answer = await ask(`${teach.dataset.figure}?${new URLSearchParams(new FormData(teach))}`);
  const text = await answer.text();
  if (mine !== asked || !answer.ok) return;
  place.innerHTML = text;
  tell(place);
  move();
};

const soon = (form, does) => {
  if (!form) return;
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(() => quietly(does()), PAUSE);
  });
};

soon(find, look);
soon(teach, draw);
if (find) find.addEventListener("submit", (event) => { event.preventDefault(); quietly(look()); });
move();
document.documentElement.dataset.ready = "yes";
