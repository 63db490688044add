// A colour: typed as #rrggbb, or picked in the browser's own window; both boxes say what they are.

export default {
  render({ model, el }) {
    el.classList.add("plan-colour");
    const label = document.createElement("label");
    const typed = document.createElement("input");
    const picked = document.createElement("input");
    typed.type = "text";
    picked.type = "color";
    typed.id = `colour-${crypto.randomUUID()}`;
    label.htmlFor = typed.id;
    el.append(label, typed, picked);

    const follow = () => {
      label.textContent = model.get("description");
      picked.setAttribute("aria-label", `pick: ${model.get("description")}`);
      typed.value = model.get("value");
      picked.value = model.get("value");
    };
    const put = (value) => {
      model.set("value", value);
      model.save_changes();
      follow();
    };
    // What is no colour stays as it was.
    typed.addEventListener("change", () => {
      const isColour = /^#[0-9a-f]{6}$/i.test(typed.value.trim());
      put(isColour ? typed.value.trim() : model.get("value"));
    });
    picked.addEventListener("change", () => put(picked.value));
    model.on("change:description", follow);
    model.on("change:value", follow);
    follow();
  },
};
