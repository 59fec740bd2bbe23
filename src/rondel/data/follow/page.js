"use strict";
(() => {
  const routine = JSON.parse(document.getElementById("routine").textContent);
  const get = (id) => document.getElementById(id);
  const media = get("media");
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const { passages, refrains, captions, seconds: total } = routine;
  const CLOSE_BEHIND = 2; // so soon after a refrain began, "back" means the one before it
  const HANDS_OFF = 8000; // after scrolling by hand the page is left alone so long, in milliseconds
  const SETTLES = 1000; // a gliding scroll is given so long to arrive, in milliseconds
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
  const pointAt = (light, second) => {
    // Ends of lines share a second: the light goes to the line that begins there.
    let at = lastAtOrBefore(light, second, (p) => p[0]);
    if (at % 2 === 1 && at < light.length - 1) at += 1;
    if (at >= light.length - 1) return light[light.length - 1].slice(1);
    const [s0, x0, y0] = light[Math.max(at, 0)];
    const [s1, x1, y1] = light[Math.max(at, 0) + 1];
    const share = s1 > s0 ? (second - s0) / (s1 - s0) : 0;
    return [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
  };
  // The page is drawn twice; a style sheet shows the drawing that fits the window.
  const drawings = [[get("light"), routine.light], [get("slip-light"), routine.slip_light]];
  const moveLight = (second) => {
    const shown = still.matches ? Math.floor(second) : second;
    for (const [spot, light] of drawings) {
      const [x, y] = pointAt(light, shown);
      spot.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
    }
  };

  // The window goes along with the light, but only for who is looking at the drawing: never away
  // from the film or the words.
  const keepInSight = () => {
    if (performance.now() < handsOffUntil) return;
    const head = document.querySelector(".head");
    const top = getComputedStyle(head).position === "sticky" ? head.getBoundingClientRect().bottom : 0;
    const height = window.innerHeight - top;
    const sheet = get("sheet").getBoundingClientRect();
    const seen = Math.min(sheet.bottom, window.innerHeight) - Math.max(sheet.top, top);
    if (seen < height / 2) return;
    const spot = drawings.map(([found]) => found).find((found) => found.getClientRects().length);
    const dot = spot.getBoundingClientRect();
    if (dot.top >= top + 40 && dot.bottom <= window.innerHeight - 60) return;
    handsOffUntil = performance.now() + SETTLES;
    window.scrollBy({ top: dot.top - top - height / 3, behavior: still.matches ? "auto" : "smooth" });
  };
  for (const kind of ["wheel", "touchmove", "pointerdown"]) {
    window.addEventListener(kind, () => { handsOffUntil = performance.now() + HANDS_OFF; }, { passive: true });
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
  // Words are written in the language of the page; a passage is named in its own.
  const named = (p) => {
    const name = document.createElement("span");
    name.lang = p.lang;
    name.textContent = p.name;
    return name;
  };
  const write = (id, ...parts) => {
    const place = get(id);
    const text = parts.map((part) => part.textContent ?? part).join("");
    if (place.textContent !== text) place.replaceChildren(...parts);
  };
  const list = [...get("passages").querySelectorAll("button")];
  const taps = [...document.querySelectorAll(".taps > rect")];

  const showPassage = (n) => {
    const p = passages[n];
    const before = passages[n - 1];
    const turn = before && before.position !== p.position ? `, now ${p.position}` : "";
    write("now-name", named(p));
    write("now-facts", factsOf(p) + turn);
    write("now-how", p.how);
    list.forEach((button, i) => {
      if (i === n) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    });
    taps.forEach((tap) => tap.classList.toggle("now", Number(tap.dataset.n) === n));
    if (shownPassage >= 0) write("said", p.home && !(before && before.home) ? "Home: " : "", named(p), `. ${factsOf(p)}${turn}`);
    shownPassage = n;
  };
  const showNext = (n, second) => {
    const next = passages[n + 1];
    const left = asMinutes(Math.ceil(passages[n].end - second));
    if (!next) write("now-next", `the last passage: ${left} to go`);
    else if (sameBut(passages[n], next)) write("now-next", `next, in ${left}: the same ${next.side}`);
    else write("now-next", `next, in ${left}: ${next.home && !passages[n].home ? "home, " : ""}`, named(next), next.side && `, ${next.side}`);
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
