// Hearing the page from any passage on: sound in pieces, a light along the line, the figure in phase.
import { NoAnswer, ask, troubleOf } from "./asking.js";

const FIRST = 2.5; // seconds of the first piece: it should be there within a second
const PIECE = 8;
const AHEAD = 12; // so many seconds are fetched before they are needed
const still = window.matchMedia("(prefers-reduced-motion: reduce)");

const lastAtOrBefore = (list, second, startOf) => {
  let low = 0;
  let high = list.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (startOf(list[middle]) <= second + 1e-3) low = middle + 1;
    else high = middle;
  }
  return low - 1;
};

const pointAt = (path, second) => {
  let at = lastAtOrBefore(path, second, (p) => p[0]);
  if (at % 2 === 1 && at < path.length - 1) at += 1;
  if (at >= path.length - 1) return path[path.length - 1].slice(1);
  const [s0, x0, y0] = path[Math.max(at, 0)];
  const [s1, x1, y1] = path[Math.max(at, 0) + 1];
  const share = s1 > s0 ? (second - s0) / (s1 - s0) : 0;
  return [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
};

export class Hearing {
  constructor(parts) {
    Object.assign(this, parts);
    this.isPlaying = false;
    this.run = 0;
    this.button.hidden = false;
    this.button.addEventListener("click", () => this.toggle());
    this.paths = this.light();
    this.heard = null; // where it was held
  }

  get total() { return this.rows[this.rows.length - 1].end; }

  changed({ page, rows }) {
    const isOther = page.dataset.version !== this.version;
    this.page = page;
    this.rows = rows;
    this.paths = this.light();
    if (isOther) {
      this.heard = null;
      if (this.isPlaying) this.hold();
    }
    this.page.classList.toggle("is-playing", this.isPlaying);
  }

  toggle() {
    if (this.isPlaying) this.hold();
    else this.play();
  }

  hold() {
    this.heard = this.now();
    this.stop();
  }

  leave() {
    this.heard = null;
    this.stop();
  }

  stop() {
    this.run += 1;
    this.isPlaying = false;
    if (this.context) this.context.close();
    this.context = null;
    this.button.textContent = this.button.dataset.wordsHear;
    this.button.setAttribute("aria-pressed", "false");
    this.page.classList.remove("is-playing");
  }

  // The second of the routine that is heard now.
  now() {
    if (!this.context || this.began === null) return this.from;
    const late = this.context.outputLatency || 0;
    return Math.min(this.total, this.from + Math.max(0, this.context.currentTime - this.began - late));
  }

  async play() {
    const chosen = this.rows.find((row) => row.id === this.chosen());
    const inside = this.heard !== null && this.heard >= chosen.start && this.heard < chosen.end - 0.2;
    this.from = inside ? this.heard : chosen.start;
    this.version = this.page.dataset.version;
    this.context = new AudioContext({ sampleRate: 48000 });
    this.began = null;
    this.isPlaying = true;
    this.button.textContent = this.button.dataset.wordsHold;
    this.button.setAttribute("aria-pressed", "true");
    this.page.classList.add("is-playing");
    const run = ++this.run;
    const pressed = performance.now();
    requestAnimationFrame(() => this.show(run));
    let at = this.from;
    let seconds = FIRST;
    try {
      while (run === this.run && at < this.total - 0.01) {
        const piece = await this.piece(at, seconds);
        if (run !== this.run) return;
        if (this.began === null) {
          await this.context.resume();
          this.began = this.context.currentTime + 0.03;
          this.button.dataset.firstSound = String(Math.round(performance.now() - pressed + 30));
        }
        const source = this.context.createBufferSource();
        source.buffer = piece;
        source.connect(this.context.destination);
        const when = this.began + at - this.from;
        if (when < this.context.currentTime) this.began += this.context.currentTime - when; // came late: wait
        source.start(this.began + at - this.from);
        at += piece.duration;
        seconds = PIECE;
        while (run === this.run && at - this.now() > AHEAD) await new Promise((done) => setTimeout(done, 200));
      }
    } catch (error) {
      if (run === this.run) {
        this.stop();
        this.quick.textContent = error instanceof NoAnswer ? "" : error.message;
      }
    }
  }

  async piece(at, seconds) {
    const answer = await ask(`/r/${this.page.dataset.slug}/sound?from=${at}&seconds=${seconds}`);
    if (!answer.ok) throw new Error(await troubleOf(answer));
    this.quick.textContent = answer.headers.get("X-Hearing") === "quick" ? this.quick.dataset.words : "";
    return this.context.decodeAudioData(await answer.arrayBuffer());
  }

  show(run) {
    if (run !== this.run) return;
    const second = this.now();
    this.shine(second);
    const row = this.rows[Math.max(0, lastAtOrBefore(this.rows, second, (r) => r.start))];
    if (row.id !== this.chosen()) this.pass(row.id);
    else if (!still.matches) this.move((second - row.start) / row.stroke);
    if (second >= this.total - 0.02) {
      this.heard = null;
      this.stop();
      return;
    }
    requestAnimationFrame(() => this.show(run));
  }

  shine(second) {
    const shown = still.matches ? Math.floor(second) : second;
    for (const name of ["wide", "slip"]) {
      const [x, y] = pointAt(this.paths[name], shown);
      const spot = document.getElementById(`light-${name}`);
      if (spot) spot.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
    }
  }
}
