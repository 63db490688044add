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

    // What stands before the colon is its name, what stands behind it how things are.
    const name = document.createElement("span");
    const state = document.createElement("span");
    state.className = "plan-state";
    button.append(name, state);

    const follow = () => {
      const [, before, after] = /^([^:]*:?)(.*)$/s.exec(model.get("description"));
      name.textContent = before;
      state.textContent = after;
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
