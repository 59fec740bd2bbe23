// A link to something that is folded away unfolds it.
const unfold = () => {
  const place = document.getElementById(location.hash.slice(1));
  if (place && place.matches("details")) place.open = true;
};

addEventListener("hashchange", unfold);
unfold();
