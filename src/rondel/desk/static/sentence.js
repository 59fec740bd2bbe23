// The sentence of a brief: what was picked is read out in it, and what would come of it is looked for.
const form = document.getElementById("brief");
const sketch = document.getElementById("sketch");
const PAUSE = 350; // after the last change, in milliseconds
let asked = 0;
let timer = 0;

const tell = (pick) => {
  const names = [...pick.querySelectorAll("input:checked")].map((box) => box.nextElementSibling.textContent);
  pick.querySelector(".picked").textContent = names.length ? names.join(", ") : pick.dataset.none;
};

const look = async () => {
  const mine = ++asked;
  sketch.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(`/estimate?${new URLSearchParams(new FormData(form))}`);
    const text = await answer.text();
    if (mine === asked && answer.ok) sketch.innerHTML = text;
  } finally {
    if (mine === asked) sketch.removeAttribute("aria-busy");
  }
};

form.addEventListener("input", (event) => {
  const pick = event.target.closest(".pick");
  if (pick) tell(pick);
  if (!sketch) return;
  clearTimeout(timer);
  timer = setTimeout(look, PAUSE);
});

// One list at a time; Escape and a press elsewhere close it.
document.addEventListener("click", (event) => {
  for (const open of document.querySelectorAll(".pick[open]")) {
    if (!open.contains(event.target)) open.open = false;
  }
});
document.addEventListener("keydown", (event) => {
  const open = event.target.closest && event.target.closest(".pick[open]");
  if (event.key === "Escape" && open) {
    open.open = false;
    open.querySelector("summary").focus();
  }
});

for (const waiting of document.querySelectorAll("form[data-waits]")) {
  waiting.addEventListener("submit", () => {
    const place = waiting.querySelector(".waiting");
    if (place) place.textContent = waiting.dataset.waits;
  });
}
