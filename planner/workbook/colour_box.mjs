// A colour: typed as a code or a name, or picked in the browser's own window; both boxes say what
// they are. Python knows the names; what it does not understand it says, and that stands below.

export default {
  render({ model, el }) {
    el.classList.add("plan-colour");
    const label = document.createElement("label");
    const typed = document.createElement("input");
    const picked = document.createElement("input");
    const said = document.createElement("div");
    typed.type = "text";
    picked.type = "color";
    typed.id = `colour-${crypto.randomUUID()}`;
    said.id = `${typed.id}-said`;
    said.setAttribute("role", "status");
    typed.setAttribute("aria-describedby", said.id);
    label.htmlFor = typed.id;
    el.append(label, typed, picked, said);

    const follow = () => {
      label.textContent = model.get("description");
      picked.setAttribute("aria-label", `pick: ${model.get("description")}`);
      typed.value = model.get("value");
      picked.value = model.get("value");
      said.textContent = model.get("said");
    };
    const put = (text) => model.send({ typed: text });
    typed.addEventListener("change", () => put(typed.value));
    picked.addEventListener("change", () => put(picked.value));
    for (const event of ["change:description", "change:value", "change:said", "msg:custom"])
      model.on(event, follow);
    follow();
  },
};
