// A slider: the browser's own, so that keys move it and a screen reader says its label.
//
// It is heard when it is let go; the number beside it follows at once.

const NAMES = ["description", "min", "max", "step", "value"];

export default {
  render({ model, el }) {
    el.classList.add("plan-slider");
    const label = document.createElement("label");
    const range = document.createElement("input");
    const shown = document.createElement("output");
    range.type = "range";
    range.id = `slider-${crypto.randomUUID()}`;
    label.htmlFor = range.id;
    // Or the arrow keys would be the notebook's, and go to another cell.
    range.dataset.lmSuppressShortcuts = "true";
    el.append(label, range, shown);

    const follow = () => {
      label.textContent = model.get("description");
      // The ends come first: a value beyond them would be cut off.
      for (const name of ["min", "max", "step"]) range[name] = model.get(name);
      range.value = model.get("value");
      shown.textContent = model.get("value");
    };
    range.addEventListener("input", () => { shown.textContent = Number(range.value); });
    range.addEventListener("change", () => {
      model.set("value", Number(range.value));
      model.save_changes();
    });
    for (const name of NAMES) model.on(`change:${name}`, follow);
    follow();
  },
};
