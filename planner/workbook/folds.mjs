// The heading of a fold: a real button, which says to a screen reader whether it is open.
//
// It turns at once, also while the kernel is busy; what it opens comes when the kernel has made it.

export default {
  render({ model, el }) {
    el.classList.add("plan-fold-heading");
    const heading = document.createElement("h3");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plan-fold";
    // Or Enter and Space would be the notebook's: it would open the cell's code, or scroll.
    button.dataset.lmSuppressShortcuts = "true";
    heading.append(button);
    el.append(heading);

    const follow = () => {
      button.textContent = model.get("description");
      button.setAttribute("aria-expanded", model.get("is_open"));
    };
    button.addEventListener("click", () => {
      model.set("is_open", !model.get("is_open"));
      model.save_changes();
    });
    model.on("change:description", follow);
    model.on("change:is_open", follow);
    follow();
  },
};
