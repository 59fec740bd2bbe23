// Asking the desk, and telling in words: what was done, to who listens; that it does not answer, to all.
const told = document.getElementById("told");
const silent = document.getElementById("no-answer");
let isGoing = false; // a page that goes breaks off what it asked for: nobody need be told
let timer = 0;
addEventListener("pagehide", () => { isGoing = true; });
addEventListener("pageshow", () => { isGoing = false; });

// The desk was closed, or started anew and knows this window no more. It is told already.
export class NoAnswer extends Error {}

const hush = (isSilent) => {
  if (silent.hidden !== isSilent || (isSilent && isGoing)) return;
  silent.hidden = !isSilent;
  silent.textContent = isSilent ? silent.dataset.words : "";
};

export const ask = async (address, options) => {
  let answer = null;
  try {
    answer = await fetch(address, options);
  } catch { /* no answer at all */ }
  hush(!answer || answer.status === 403);
  if (!answer || answer.status === 403) throw new NoAnswer(silent.dataset.words);
  return answer;
};

// Work that nobody waits for may go without an answer; anything else that fails is a fault, and seen.
export const quietly = (promise) => promise.catch((error) => { if (!(error instanceof NoAnswer)) throw error; });

export const noAnswer = () => hush(true);

export const pageOf = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");

// What a page that tells of trouble says, else the number of the answer in words.
export const troubleOf = async (answer) => {
  const words = (await pageOf(answer)).querySelector(".trouble");
  return words ? words.textContent : answer.statusText;
};

// Tell it to who listens. The region stays; it is emptied first, so that the same words count anew.
export const tell = (words, lang = document.documentElement.lang) => {
  clearTimeout(timer);
  told.replaceChildren();
  timer = setTimeout(() => {
    told.lang = lang;
    told.replaceChildren(...(typeof words === "string" ? [words] : words));
  }, 100);
};

addEventListener("keydown", (event) => { if (event.key === "Escape") hush(false); });

// ------------------------------------------------ what would leave this page
// Before a press leads elsewhere the desk is asked whether it is there: a page of the browser's own
// would take all that she typed with it.
const isThere = async () => (await ask("/static/mark.svg", { method: "HEAD", cache: "no-store" })).ok;

addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.dataset.goes === "now") return;
  event.preventDefault();
  if (form.dataset.goes) return; // pressed twice
  form.dataset.goes = "soon";
  const place = form.querySelector(".waiting");
  quietly(isThere().then(() => {
    form.dataset.goes = "now";
    form.requestSubmit(event.submitter);
  }, (error) => {
    if (place) place.textContent = "";
    throw error;
  }).finally(() => { delete form.dataset.goes; }));
});

addEventListener("click", (event) => {
  const link = event.target.closest && event.target.closest("a[href^='/']");
  const isPlain = !(event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey);
  if (!link || link.target || !isPlain || event.defaultPrevented) return;
  event.preventDefault();
  quietly(isThere().then(() => {
    if (link.hasAttribute("download")) saved(link);
    else location.assign(link.href);
  }));
});

const saved = (link) => {
  const other = Object.assign(document.createElement("a"), { href: link.href, download: link.download, target: "_self" });
  other.click();
};
