// Hands that move through their stroke. `at` gives the phase of now, 0 to 1.
const still = window.matchMedia("(prefers-reduced-motion: reduce)");

export const movingFigure = (frame) => {
  if (!frame) return () => {};
  const hands = [...frame.querySelectorAll(".hand")];
  const tracks = JSON.parse(frame.querySelector(".tracks").textContent);
  return (phase) => {
    hands.forEach((hand, n) => {
      const track = tracks[n];
      const place = (((phase % 1) + 1) % 1) * track.length;
      const [a, b] = [track[Math.floor(place) % track.length], track[(Math.floor(place) + 1) % track.length]];
      const share = place - Math.floor(place);
      const [x, y, angle, across, along] = a.map((value, i) => value + (b[i] - value) * share);
      hand.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)}) rotate(${angle.toFixed(2)}) scale(${across.toFixed(3)} ${along.toFixed(3)})`);
    });
  };
};

// Let the figure move by itself, at its true pace, while nothing is heard.
export const live = (frame, isHeld) => {
  const move = movingFigure(frame);
  const stroke = frame ? Number(frame.dataset.stroke) : 0;
  let gone = false;
  const began = performance.now();
  const step = (now) => {
    if (gone) return;
    if (!isHeld() && !still.matches && stroke > 0) move((now - began) / 1000 / stroke);
    requestAnimationFrame(step);
  };
  if (frame) requestAnimationFrame(step);
  return { move, end: () => { gone = true; } };
};
