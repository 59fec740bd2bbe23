// What she is in the middle of: fields that say something else than they came with.
const isChanged = (field) => {
  if (field.type === "hidden" || field.type === "file") return false;
  if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
  if (field.options) {
    const usual = [...field.options].find((option) => option.defaultSelected) || field.options[0];
    return field.selectedOptions[0] !== usual;
  }
  return field.value !== usualOf(field);
};

// What a field says untouched: a slider that came with 4.0 says 4, and one past its end its end.
const usualOf = (field) => {
  const untouched = field.cloneNode();
  untouched.value = field.defaultValue;
  return untouched.value;
};

const isInside = (place) => place.contains(document.activeElement);
const hasTyped = (place) => [...place.querySelectorAll("input, select, textarea")].some(isChanged);
export const isHers = (place) => isInside(place) || hasTyped(place);
