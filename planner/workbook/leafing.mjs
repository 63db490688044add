// The pages of a PDF, small, one of which is chosen: radio buttons with pictures, moved by keys too.

export default {
  render({ model, el }) {
    el.classList.add("plan-pages");
    const group = document.createElement("fieldset");
    const legend = document.createElement("legend");
    const list = document.createElement("div");
    const more = document.createElement("button");
    more.type = "button";
    more.className = "jupyter-widgets jupyter-button widget-button";
    more.dataset.lmSuppressShortcuts = "true";
    group.append(legend, list, more);
    el.append(group);
    const name = `pages-${crypto.randomUUID()}`;

    const page = (address, number) => {
      const label = document.createElement("label");
      const choice = document.createElement("input");
      const image = document.createElement("img");
      choice.type = "radio";
      choice.name = name;
      choice.value = number;
      // Or the arrow keys would be the notebook's.
      choice.dataset.lmSuppressShortcuts = "true";
      image.src = address;
      image.alt = `page ${number} of ${model.get("pages")}`;
      choice.addEventListener("change", () => {
        model.set("value", number);
        model.save_changes();
      });
      label.append(choice, image, String(number));
      return label;
    };
    const follow = () => {
      const [pages, pictures] = [model.get("pages"), model.get("pictures")];
      legend.textContent = `Which page? It has ${pages}.`;
      for (let i = list.children.length; i < pictures.length; i += 1)
        list.append(page(pictures[i], i + 1));
      for (const choice of list.querySelectorAll("input"))
        choice.checked = Number(choice.value) === model.get("value");
      more.hidden = pictures.length >= pages;
      more.disabled = false;
      more.textContent = `Show more pages (${pictures.length} of ${pages} are shown)`;
    };
    more.addEventListener("click", () => {
      more.disabled = true;
      model.send({ more: true });
    });
    model.on("change:pictures", follow);
    model.on("change:value", follow);
    follow();
  },
};
