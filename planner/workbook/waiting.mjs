// The bar: shown at the foot of the page where a plan takes long, with a button that stops it.
//
// The kernel is busy then and hears nothing from the page. The server does: it is asked to
// interrupt the kernel, as JupyterLab's own button asks it.

// In milliseconds: so long nobody minds.
const LONG = 2000;

function element(tag, parent, look = {}) {
  const made = document.createElement(tag);
  Object.assign(made.style, look);
  parent.append(made);
  return made;
}

/** The bar, hidden. */
function makeBar() {
  const bar = element("div", document.body, {
    position: "fixed", bottom: "2.5em", right: "1.5em", zIndex: 1000, maxWidth: "26em",
    padding: "0.8em 1em", borderRadius: "4px", display: "none",
    background: "var(--jp-layout-color1, #fff)", color: "var(--jp-ui-font-color1, #222)",
    border: "1px solid var(--jp-border-color1, #888)", boxShadow: "0 2px 8px rgba(0, 0, 0, 0.3)",
  });
  bar.className = "plan-waiting";
  bar.setAttribute("role", "status");
  const words = element("div", bar);
  // Without a value it moves by itself, where nobody knows how far the work is.
  const progress = element("progress", bar, { width: "100%", margin: "0.5em 0" });
  progress.setAttribute("aria-label", "the plan is being made");
  const stop = element("button", bar);
  stop.className = "jp-Button jupyter-button";
  stop.textContent = "Stop; keep the plan before";
  return { bar, words, progress, stop };
}

export default {
  initialize({ model }) {
    const { bar, words, progress, stop } = makeBar();
    let waiting = null;

    const follow = () => {
      words.textContent = model.get("words") || "The plan is being made.";
      const share = model.get("share");
      if (share === null) progress.removeAttribute("value");
      else progress.value = share;
      if (!model.get("busy")) {
        clearTimeout(waiting);
        waiting = null;
        bar.style.display = "none";
      } else if (waiting === null) {
        waiting = setTimeout(() => { bar.style.display = "block"; }, LONG);
        stop.disabled = false;
      }
    };

    stop.addEventListener("click", async () => {
      stop.disabled = true;
      try {
        await model.widget_manager.kernel.interrupt();
      } catch {
        words.textContent = "This button cannot stop it. Press ■ at the top of the notebook.";
      }
    });
    model.on("change:busy", follow);
    model.on("change:words", follow);
    model.on("change:share", follow);
    follow();
    return () => {
      clearTimeout(waiting);
      bar.remove();
    };
  },
};
