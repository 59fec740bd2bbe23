// Putting right what was heard: the first bar dragged, the beats tapped along.
export const ready = (article) => {
  const audio = article.querySelector("audio");
  const drag = article.querySelector(".drag");
  if (!audio || !drag) return;
  const bar = article.querySelector(".bar-form input[type=text]");
  drag.addEventListener("input", () => { bar.value = Number(drag.value).toFixed(2); });
  drag.addEventListener("change", () => {
    audio.currentTime = Number(drag.value);
    audio.play().catch(() => {});
  });
  bar.addEventListener("input", () => { if (!Number.isNaN(Number(bar.value))) drag.value = bar.value; });

  const form = article.querySelector(".tap-form");
  const told = form.querySelector(".taps");
  const use = form.querySelector(".use-taps");
  let taps = [];
  const tap = () => {
    if (audio.paused) {
      taps = [];
      audio.play().catch(() => {});
      told.textContent = "";
      use.disabled = true;
      return;
    }
    const now = audio.currentTime;
    if (!taps.length || now > taps[taps.length - 1]) taps.push(now);
    told.textContent = told.dataset.words.replace("{count}", String(taps.length));
    use.disabled = taps.length < 4;
    form.querySelector("[name=taps]").value = taps.map((t) => t.toFixed(3)).join(" ");
  };
  // Pressed down counts, not let go: that is when a hand means it.
  const button = form.querySelector(".tap");
  button.addEventListener("pointerdown", (event) => { event.preventDefault(); button.focus(); tap(); });
  button.addEventListener("keydown", (event) => {
    if ((event.key === " " || event.key === "Enter") && !event.repeat) { event.preventDefault(); tap(); }
  });
};
