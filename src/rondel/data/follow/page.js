"use strict";
(() => {
  const routine = JSON.parse(document.getElementById("routine").textContent);
  const get = (id) => document.getElementById(id);
  const media = get("media");
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const { passages, refrains, captions, light, seconds: total } = routine;
  const CLOSE_BEHIND = 2; // so soon after a refrain began, "back" means the one before it
  let wished = null; // a second to go to, as soon as the session can
  let shownPassage = -1;
  let shownCaption = null;
  let handsOffUntil = 0; // the reader scrolled by hand: leave the page alone for a while

  // ---------------------------------------------------------------- time
  const here = () => (wished === null ? Math.min(media.currentTime, total) : wished);

  const go = (to) => {
    const second = Math.min(Math.max(to, 0), total);
    wished = second;
    if (media.readyState > 0) {
      media.currentTime = second;
    }
    handsOffUntil = 0;
    show();
  };
  const arrived = () => {
    if (wished !== null && media.readyState > 0 && Math.abs(media.currentTime - wished) < 0.05) {
      wished = null;
    }
    show();
  };

  const lastAtOrBefore = (rows, second, startOf) => {
    let low = 0;
    let high = rows.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (startOf(rows[middle]) <= second + 1e-3) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  };
  const passageAt = (second) => Math.max(0, lastAtOrBefore(passages, second, (p) => p.start));
  const refrainBefore = (second) => refrains.filter((r) => r < second - CLOSE_BEHIND).pop();
  const refrainAfter = (second) => refrains.find((r) => r > second + 0.05);

  // ---------------------------------------------------------------- the light
  const pointAt = (second) => {
    // Ends of lines share a second: the light goes to the line that begins there.
    let at = lastAtOrBefore(light, second, (p) => p[0]);
    if (at % 2 === 1 && at < light.length - 1) at += 1;
    if (at >= light.length - 1) return light[light.length - 1].slice(1);
    const [s0, x0, y0] = light[Math.max(at, 0)];
    const [s1, x1, y1] = light[Math.max(at, 0) + 1];
    const share = s1 > s0 ? (second - s0) / (s1 - s0) : 0;
    return [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
  };
  const spot = get("light");
  const moveLight = (second) => {
    const shown = still.matches ? Math.floor(second) : second;
    const [x, y] = pointAt(shown);
    spot.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
  };

  const scroller = () => {
    const sheet = get("sheet");
    const scrolls = sheet.scrollHeight > sheet.clientHeight + 2 || sheet.scrollWidth > sheet.clientWidth + 2;
    return scrolls && getComputedStyle(sheet).overflowY !== "visible" ? sheet : get("page");
  };
  const keepInSight = () => {
    if (performance.now() < handsOffUntil) return;
    const box = scroller();
    const frame = box.getBoundingClientRect();
    const dot = spot.getBoundingClientRect();
    const by = { left: 0, top: 0 };
    if (dot.top < frame.top + 40 || dot.bottom > frame.bottom - 60) {
      by.top = dot.top - frame.top - frame.height / 3;
    }
    if (dot.left < frame.left + 20 || dot.right > frame.right - 40) {
      by.left = dot.left - frame.left - frame.width / 5;
    }
    if (by.top || by.left) box.scrollBy({ ...by, behavior: still.matches ? "auto" : "smooth" });
  };
  for (const box of [get("sheet"), get("page")]) {
    for (const kind of ["wheel", "touchmove", "pointerdown"]) {
      box.addEventListener(kind, () => { handsOffUntil = performance.now() + 8000; }, { passive: true });
    }
  }

  // ---------------------------------------------------------------- words
  const asMinutes = (second) => {
    const whole = Math.max(0, Math.floor(second + 1e-6));
    return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
  };
  const factsOf = (p) => {
    const facts = [p.side, p.pressure && `pressure ${p.pressure}`.replace("pressure still", "still")];
    if (p.top) facts.push(`${p.top} lightly on top`);
    if (p.skip) facts.push("skip it if you like, without regret");
    return facts.filter(Boolean).join(", ");
  };
  const sameBut = (p, q) => q.name === p.name && q.side !== p.side;
  const write = (id, text) => {
    const place = get(id);
    if (place.textContent !== text) place.textContent = text;
  };
  const list = [...get("passages").querySelectorAll("button")];
  const taps = [...get("taps").children];

  const showPassage = (n) => {
    const p = passages[n];
    const before = passages[n - 1];
    const turn = before && before.position !== p.position ? `, now ${p.position}` : "";
    write("now-name", p.name);
    write("now-facts", factsOf(p) + turn);
    write("now-how", p.how);
    list.forEach((button, i) => {
      if (i === n) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    });
    taps.forEach((tap) => tap.classList.toggle("now", Number(tap.dataset.n) === n));
    if (shownPassage >= 0) write("said", `${p.home && !(before && before.home) ? "Home: " : ""}${p.name}. ${factsOf(p)}${turn}`);
    shownPassage = n;
  };
  const showNext = (n, second) => {
    const next = passages[n + 1];
    const left = asMinutes(Math.ceil(passages[n].end - second));
    if (!next) write("now-next", `the last passage: ${left} to go`);
    else if (sameBut(passages[n], next)) write("now-next", `next, in ${left}: the same ${next.side}`);
    else write("now-next", `next, in ${left}: ${next.home && !passages[n].home ? "home, " : ""}${next.name}${next.side && `, ${next.side}`}`);
  };
  const showCaption = (second) => {
    const at = lastAtOrBefore(captions, second, (c) => c[0]);
    const text = at >= 0 && second < captions[at][1] ? captions[at][2] : "";
    if (text !== shownCaption) {
      get("caption").textContent = text;
      shownCaption = text;
    }
  };
  const mayGo = (button, target) => {
    if (target === undefined) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  };

  function show() {
    const second = here();
    const n = passageAt(second);
    moveLight(second);
    if (n !== shownPassage) showPassage(n);
    showNext(n, second);
    showCaption(second);
    write("clock", `${asMinutes(second)} of ${asMinutes(total)}${passages[n].home ? ", at home" : ""}`);
    mayGo(homeBefore, refrainBefore(second));
    mayGo(homeAfter, refrainAfter(second));
    keepInSight();
  }

  // ---------------------------------------------------------------- buttons
  const hear = get("hear");
  const homeBefore = get("home-before");
  const homeAfter = get("home-after");
  const toggle = () => {
    if (!media.paused) {
      media.pause();
      return;
    }
    const playing = media.play();
    if (playing) playing.catch(() => {});
  };
  const goIf = (second) => { if (second !== undefined) go(second); };
  const step = (by) => {
    const second = here();
    const n = passageAt(second);
    const back = by < 0 && second - passages[n].start > CLOSE_BEHIND ? 0 : by;
    const to = passages[Math.max(0, n + back)];
    if (to) go(to.start);
  };

  hear.addEventListener("click", toggle);
  homeBefore.addEventListener("click", () => goIf(refrainBefore(here())));
  homeAfter.addEventListener("click", () => goIf(refrainAfter(here())));
  list.forEach((button) => button.addEventListener("click", () => go(passages[button.dataset.n].start)));
  taps.forEach((tap) => tap.addEventListener("click", () => go(passages[tap.dataset.n].start)));
  get("words").addEventListener("click", (event) => {
    const shown = event.currentTarget.getAttribute("aria-pressed") !== "true";
    event.currentTarget.setAttribute("aria-pressed", String(shown));
    get("frame").classList.toggle("without-words", !shown);
  });
  const large = get("large");
  large.hidden = !document.fullscreenEnabled;
  large.addEventListener("click", () => get("frame").requestFullscreen().catch(() => {}));

  // ---------------------------------------------------------------- keys
  const isControl = (node) => node instanceof Element && node.closest("button, a, summary, input, select, textarea");
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    const does = {
      " ": () => toggle(),
      ArrowLeft: () => step(-1),
      ArrowRight: () => step(1),
      Home: () => goIf(refrainBefore(here())),
      End: () => goIf(refrainAfter(here())),
    }[event.key];
    if (!does || (event.key === " " && isControl(event.target))) return;
    event.preventDefault();
    does();
  });

  // ---------------------------------------------------------------- the session
  const playState = () => {
    const playing = !media.paused && !media.ended;
    hear.setAttribute("aria-pressed", String(playing));
    hear.textContent = playing ? "hold" : "hear it";
  };
  const follow = () => {
    if (wished === null || Math.abs(media.currentTime - wished) < 0.05) wished = null;
    show();
    if (!media.paused && !media.ended) window.requestAnimationFrame(follow);
  };
  media.addEventListener("play", () => {
    get("before").open = false;
    playState();
    window.requestAnimationFrame(follow);
  });
  media.addEventListener("pause", () => { playState(); show(); });
  media.addEventListener("ended", () => { playState(); show(); });
  media.addEventListener("seeked", arrived);
  media.addEventListener("timeupdate", arrived);
  const known = () => {
    get("trouble").hidden = true;
    get("frame").classList.toggle("only-sound", media.videoWidth === 0);
    if (wished !== null) media.currentTime = wished;
    show();
  };
  const missing = () => {
    get("trouble").hidden = false;
    get("frame").classList.add("only-sound");
  };
  const sources = [...media.querySelectorAll("source")];
  media.addEventListener("loadedmetadata", known);
  sources[sources.length - 1].addEventListener("error", missing);
  // Both may have come before anybody listened; the source then bears a mark.
  if (media.readyState > 0) known();
  else if (sources[sources.length - 1].dataset.missing) missing();
  window.addEventListener("beforeprint", () => { get("before").open = true; });
  window.addEventListener("resize", keepInSight);
  show();
})();
