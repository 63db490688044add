// A button that opens the computer's own window to choose a file; a file may also be dropped on it,
// or anywhere on the form around it.
//
// What is in the file goes to the kernel once, in one message, and is not kept here.

export default {
  render({ model, el }) {
    const input = document.createElement("input");
    input.type = "file";
    input.hidden = true;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "jupyter-widgets jupyter-button widget-button";
    // Or Enter and Space would be the notebook's.
    button.dataset.lmSuppressShortcuts = "true";
    el.append(button, input);

    const follow = () => {
      button.disabled = false;
      button.textContent = model.get("description");
      input.accept = model.get("accept");
    };
    const send = async (file) => {
      if (!file) return;
      // Until the kernel answers: a photograph takes a moment.
      button.disabled = true;
      button.textContent = "Reading …";
      const content = await file.arrayBuffer();
      model.send({ name: file.name }, undefined, [content]);
    };
    button.addEventListener("click", () => input.click());
    input.addEventListener("change", async () => {
      await send(input.files[0]);
      input.value = ""; // or the same file, changed since, could not be chosen again
    });
    // The form may come to stand around the button after it was made.
    const area = () => el.closest(".plan-drop") ?? button;
    const isDropped = (event) =>
      event.dataTransfer?.types.includes("Files") && area().contains(event.target);
    const over = (event) => {
      const isOver = isDropped(event);
      area().classList.toggle("plan-dropping", isOver);
      if (isOver) event.preventDefault();
    };
    const drop = (event) => {
      area().classList.remove("plan-dropping");
      if (!isDropped(event)) return;
      event.preventDefault();
      event.stopPropagation(); // or JupyterLab would put it into the folder of the notebooks
      send(event.dataTransfer.files[0]);
    };
    // On the document and before anybody else: the form is not this button's.
    document.addEventListener("dragover", over, true);
    document.addEventListener("drop", drop, true);
    model.on("change:description", follow);
    model.on("msg:custom", follow);
    follow();
    return () => {
      document.removeEventListener("dragover", over, true);
      document.removeEventListener("drop", drop, true);
    };
  },
};
