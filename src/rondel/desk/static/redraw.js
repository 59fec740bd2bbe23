// Pages that were drawn anew, put where they were without losing the place.
export const opened = (place) => [...place.querySelectorAll("details")].map((d) => d.open);
export const open = (place, was) => [...place.querySelectorAll("details")].forEach((d, i) => { if (was[i]) d.open = true; });

// All around a part that stays: it keeps the focus, and a reader's place in it.
export const putAround = (stays, came) => {
  for (const node of [...stays.parentNode.childNodes]) if (node !== stays) node.remove();
  let isAfter = false;
  for (const node of [...came.parentNode.childNodes]) {
    if (node === came) isAfter = true;
    else if (isAfter) stays.parentNode.append(node);
    else stays.before(node);
  }
};

// How to find again, in a page that was drawn anew, what has the focus now.
export const again = (focus) => {
  if (!focus || focus === document.body) return null;
  if (focus.id) return `#${CSS.escape(focus.id)}`;
  return focus.name && focus.value !== undefined ? `[name="${focus.name}"][value="${CSS.escape(focus.value)}"]` : null;
};
