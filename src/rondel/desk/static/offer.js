// A button that shows what has come of work, where drawing it unasked would take something from her.
export const offer = (place, words, show) => {
  if (place.querySelector(".offer")) return;
  const button = Object.assign(document.createElement("button"), { type: "button", className: "word strong offer", textContent: words });
  button.addEventListener("click", show);
  place.prepend(button);
};
