// The sentence of a brief: what was picked is read out in it, and what would come of it is looked for.
import { ask, quietly, troubleOf } from "./asking.js";

const form = document.getElementById("brief");
const sketch = document.getElementById("sketch");
const PAUSE = 350; // after the last change, in milliseconds
let asked = 0;
let timer = 0;

const tell = (pick) => {
  const names = [...pick.querySelectorAll("input:checked")].map((box) => box.nextElementSibling.textContent);
  pick.querySelector(".picked").textContent = names.length ? names.join(", ") : pick.dataset.none;
};

// What is wrong with a number stands beside it; the live region of the sketch reads it out.
const tellWrong = () => {
  const wrong = new Map([...sketch.querySelectorAll("#wrong li")].map((row) => [row.dataset.field, row.textContent]));
  for (const place of form.querySelectorAll(".refused")) {
    const name = place.id.replace("why-", "");
    const isNew = wrong.has(name) && !place.textContent;
    place.textContent = wrong.get(name) || "";
    if (isNew && form.elements[name] === document.activeElement) place.scrollIntoView({ block: "nearest" });
    if (wrong.has(name)) form.elements[name].setAttribute("aria-invalid", "true");
    else form.elements[name].removeAttribute("aria-invalid");
  }
};

const look = async () => {
  const mine = ++asked;
  sketch.setAttribute("aria-busy", "true");
  try {
    const answer = await ask(`/estimate?${new URLSearchParams(new FormData(form))}`);
    if (!answer.ok) {
      const words = await troubleOf(answer);
      if (mine === asked) sketch.replaceChildren(Object.assign(document.createElement("p"), { className: "trouble", lang: "en", textContent: words }));
      return;
    }
    const text = await answer.text();
    if (mine !== asked) return;
    sketch.innerHTML = text;
    tellWrong();
  } finally {
    if (mine === asked) sketch.removeAttribute("aria-busy");
  }
};

form.addEventListener("input", (event) => {
  const pick = event.target.closest(".pick");
  if (pick) tell(pick);
  if (!sketch) return;
  clearTimeout(timer);
  timer = setTimeout(() => quietly(look()), PAUSE);
});

// One list at a time, and none over what she goes on to: Escape closes it, and so do a press or the
// focus elsewhere.
const closeBut = (target) => {
  for (const open of document.querySelectorAll(".pick[open]")) {
    if (!open.contains(target)) open.open = false;
  }
};
document.addEventListener("click", (event) => closeBut(event.target));
document.addEventListener("focusin", (event) => {
  // Where a word in the list is pressed, what holds the list is given the focus: that is not elsewhere.
  if (!event.target.querySelector(".pick[open]")) closeBut(event.target);
});
document.addEventListener("keydown", (event) => {
  const open = document.querySelector(".pick[open]");
  if (event.key !== "Escape" || !open) return;
  const isInside = open.contains(document.activeElement);
  open.open = false;
  if (isInside) open.querySelector("summary").focus();
});

// After a page that came with something wrong: the field has the focus, and its sentence is seen, too.
const firstWrong = form.querySelector(".refused:not(:empty)");
if (firstWrong) firstWrong.scrollIntoView({ block: "nearest" });

for (const waiting of document.querySelectorAll("form[data-waits]")) {
  waiting.addEventListener("submit", () => {
    const place = waiting.querySelector(".waiting");
    if (place) place.textContent = waiting.dataset.waits;
  });
}
