// The workbook opens alive: each of its notebooks runs by itself when it is opened, stays at its
// top, shows no code unless that is asked for, and is never written.
//
// Plain JavaScript, as JupyterLab loads it: there is nothing to build. Which notebooks are meant
// stands in .lab/page_config.json; all others are left alone. A notebook's state is written on its
// panel, as data-life: waking, awake, asleep (its kernel has stopped) or stuck (a cell has failed).
(() => {
  const NAME = "workbook-alive";
  const NARROW_PX = 900; // below it the list of files leaves no room for the notebook
  const ANSWER_MS = 8000;
  const WIDGET = "application/vnd.jupyter.widget-view+json";
  const PANE = ".widget-html-content";
  const GONE = ["dead", "terminating", "unknown"];

  const NOTES = {
    waking: ["Waking up … what you see is from before, and can be changed in a moment.", ""],
    asleep: [
      "This page is asleep: the program behind it has stopped. What you did is kept; what you " +
        "see can be changed again when it is awake.",
      "Wake it up",
    ],
    stuck: [
      "This page did not open whole: where it stopped, it says why. What you did is kept.",
      "Try again",
    ],
  };
  // JupyterLab shows 140 letters at the most.
  const NOTHING_TO_SAVE =
    "Nothing to save: your piece is kept as you work, and this page only shows it. To change the " +
    "page, choose File → Save Notebook As….";

  // Code that is not shown leaves no trace; what belongs to code comes and goes with it.
  const LOOK = `
.jp-NotebookPanel[data-life] {
  & .jp-Cell-inputWrapper:has(.jp-Placeholder) {display: none}
  & .jp-CodeCell:not(:has(.jp-InputArea))
    :is(.jp-OutputCollapser, .jp-OutputPrompt, .jp-OutputArea-promptOverlay),
  & .jp-MarkdownCell :is(.jp-InputCollapser, .jp-InputPrompt),
  & :is(.jp-CodeCell:not(:has(.jp-InputArea)), .jp-MarkdownCell.jp-mod-rendered) .jp-cell-toolbar,
  & .jp-Notebook-footer {display: none}
  & .jp-Notebook .jp-Cell {box-shadow: none !important}
  & .jp-Notebook .jp-Cell:focus-visible {box-shadow: -3px 0 0 var(--jp-brand-color1) !important}
  & .jp-Notebook .jp-MarkdownOutput {border-color: transparent !important}
  & .jp-RenderedMarkdown h1 {margin: 0 0 0.2em; font-size: 1.6em}
  & .jp-RenderedMarkdown p:last-child {margin-bottom: 0}
  & .jp-Toolbar-item:is([data-jp-item-name=save], [data-jp-item-name=insert],
    [data-jp-item-name=cut], [data-jp-item-name=copy], [data-jp-item-name=paste],
    [data-jp-item-name=run], [data-jp-item-name=cellType]) {display: none}
}
.workbook-note {position: sticky; top: 0; z-index: 3; margin: 0 0 8px; padding: 8px 12px;
  color: var(--jp-ui-font-color1); background: var(--jp-layout-color1);
  font: 14px/1.5 var(--jp-ui-font-family); border: 1px solid var(--jp-border-color1);
  border-left: 4px solid var(--jp-brand-color1)}
.workbook-note button {margin-left: 12px; padding: 4px 12px; font: inherit; cursor: pointer;
  color: var(--jp-ui-font-color1); background: var(--jp-layout-color2);
  border: 1px solid var(--jp-border-color1); border-radius: 3px}`;

  // ---- one notebook

  class Opened {
    constructor(panel, say) {
      this.panel = panel;
      this.note = document.createElement("div");
      this.note.className = "workbook-note";
      this.note.setAttribute("role", "status");
      this.cellsRun = 0; // since it fell asleep
      this.show("waking");
    }

    async open() {
      const {context, content, sessionContext} = this.panel;
      await context.ready;
      content.activeCellIndex = 0;
      sessionContext.statusChanged.connect((_, status) => this.hearStatus(status));
      sessionContext.kernelChanged.connect((_, {newValue}) => newValue || this.fallAsleep());
      sessionContext.iopubMessage.connect((_, message) => this.hear(message));
      await this.wake();
    }

    get cells() {
      return this.panel.content.widgets.filter((cell) => cell.model.type === "code");
    }

    async wake() {
      this.show("waking");
      try {
        for (const cell of this.cells) cell.inputHidden = true;
        this.show((await this.run()) ? "awake" : "stuck");
      } catch (error) {
        console.warn("The notebook could not be run:", error);
        this.show("asleep");
      }
    }

    // Whether all cells have run. They are run one by one, so that nothing scrolls, no other cell
    // becomes the active one, and what was kept of a cell is shown until its turn comes.
    async run() {
      const {sessionContext} = this.panel;
      await sessionContext.ready;
      const before = sessionContext.session?.kernel;
      // One that is just being ended may not have said so yet.
      const isGone = !before || before.isDisposed || GONE.includes(before.status);
      if (isGone) {
        await sessionContext.changeKernel({name: sessionContext.kernelPreference.name});
      }
      // Without it a page that is opened beside a running kernel stays busy.
      await sessionContext.session.kernel.info;
      for (const cell of this.cells) {
        const reply = await cell.constructor.execute(cell, sessionContext);
        if (reply && reply.content.status !== "ok") return false;
      }
      return true;
    }

    hearStatus(status) {
      const isDown = ["dead", "restarting", "autorestarting", "terminating"].includes(status);
      if (isDown) this.fallAsleep();
    }

    fallAsleep() {
      // While it is waking no kernel is there at first; one that stops then is told by its cells.
      if (this.life === "waking") return;
      this.cellsRun = 0;
      this.show("asleep");
    }

    // Somebody may have run all cells by JupyterLab's menu.
    hear({header, content}) {
      const isDown = this.life === "asleep" || this.life === "stuck";
      if (header.msg_type === "execute_input") this.cellsRun += 1;
      const isDone = header.msg_type === "status" && content.execution_state === "idle";
      if (isDown && isDone && this.cellsRun >= this.cells.length) this.show("awake");
    }

    get life() {
      return this.panel.node.dataset.life;
    }

    show(life) {
      this.panel.node.dataset.life = life;
      const [words, todo] = NOTES[life] ?? [];
      if (!words) {
        this.note.remove();
        return;
      }
      this.note.textContent = words;
      if (todo) {
        const button = document.createElement("button");
        button.textContent = todo;
        button.addEventListener("click", () => this.wake());
        this.note.append(button);
      }
      const place = this.panel.content.node.querySelector(".jp-WindowedPanel-outer");
      (place ?? this.panel.content.node).prepend(this.note);
    }
  }

  // A notebook that runs is changed thereby. What it shows is of the moment, and would be dead the
  // next day: nothing of it goes into the file. (The server refuses it as well.)
  function neverWrite(context, say) {
    const stayClean = () => {
      if (context.model.dirty) context.model.dirty = false;
    };
    // What is never changed is not saved by itself: whoever saves it is a person, to be answered.
    context.save = async () => say(NOTHING_TO_SAVE);
    context.createCheckpoint = async () => ({id: "none", last_modified: ""});
    context.restoreCheckpoint = async () => {};
    context.model.stateChanged.connect(stayClean);
    stayClean();
    const toJSON = context.model.toJSON.bind(context.model);
    context.model.toJSON = () => withoutWidgets(toJSON());
  }

  // In a copy under another name a widget would be dead; the HTML beside it can be shown.
  function withoutWidgets(notebook) {
    const outputs = notebook.cells.flatMap((cell) => cell.outputs ?? []);
    for (const {data} of outputs) if (data && Object.keys(data).length > 1) delete data[WIDGET];
    return notebook;
  }

  // What a pane shows is made anew when the piece changes; what was unfolded in it stays so.
  function keepUnfolded() {
    const unfolded = new WeakMap(); // by pane, the places of its folds that are open
    const foldsIn = (pane) => [...pane.querySelectorAll("details")];
    const paneOf = (element) => element.closest?.(PANE);
    document.addEventListener("toggle", ({target}) => {
      const pane = paneOf(target);
      if (!pane) return;
      const places = unfolded.get(pane) ?? unfolded.set(pane, new Set()).get(pane);
      const place = foldsIn(pane).indexOf(target);
      if (target.open) places.add(place);
      else places.delete(place);
    }, true);
    new MutationObserver((changes) => {
      const panes = new Set(changes.map(({target}) => target).filter((each) => unfolded.has(each)));
      for (const pane of panes) {
        const places = unfolded.get(pane);
        foldsIn(pane).forEach((fold, place) => { if (places.has(place)) fold.open = true; });
      }
    }).observe(document.body, {childList: true, subtree: true});
  }

  // A browser that goes by another language drops the comma from a number, and 1,5 becomes 15. Here
  // it is a decimal point, typed or pasted.
  function takeCommas() {
    const isNumber = (box) => box?.matches?.(".jupyter-widgets input[type=number]");
    const put = (event, text) => {
      event.preventDefault();
      document.execCommand("insertText", false, text);
    };
    document.addEventListener("keydown", (event) => {
      if (event.key === "," && isNumber(event.target)) put(event, ".");
    }, true);
    document.addEventListener("paste", (event) => {
      const text = event.clipboardData?.getData("text").trim() ?? "";
      if (isNumber(event.target) && /^[-+]?\d+,\d+$/.test(text)) put(event, text.replace(",", "."));
    }, true);
  }

  // ---- JupyterLab

  function activate(app) {
    const config = JSON.parse(document.getElementById("jupyter-config-data").textContent);
    const ours = new Set(config.workbookNotebooks);
    const known = new WeakSet();
    const views = new WeakSet();
    const look = document.createElement("style");
    look.textContent = LOOK;
    document.head.append(look);
    const say = (message) =>
      app.commands.execute("apputils:notify", {message, options: {autoClose: ANSWER_MS}});

    function meet() {
      const panel = app.shell.currentWidget;
      if (!panel?.sessionContext || !ours.has(panel.context?.path) || known.has(panel)) return;
      known.add(panel);
      new Opened(panel, say).open();
    }

    // Also of those behind other tabs, which run when they are looked at.
    function protect() {
      for (const panel of app.shell.widgets("main")) {
        if (!panel.sessionContext || !ours.has(panel.context?.path) || views.has(panel)) continue;
        views.add(panel);
        panel.context.ready.then(() => neverWrite(panel.context, say));
      }
    }

    // What is narrow stays as the knitter makes it; only what becomes narrow is made room in.
    let wasNarrow = false;
    function makeRoom() {
      const isNarrow = window.innerWidth < NARROW_PX;
      if (isNarrow && !wasNarrow) app.shell.collapseLeft();
      wasNarrow = isNarrow;
    }

    keepUnfolded();
    takeCommas();
    app.restored.then(() => {
      // The signal alone misses the notebook that is opened by its address.
      app.shell.layoutModified.connect(protect);
      app.shell.currentChanged.connect(protect);
      app.shell.currentChanged.connect(meet);
      protect();
      meet();
      window.addEventListener("resize", makeRoom);
      makeRoom();
    });
  }

  const plugin = {id: `${NAME}:plugin`, autoStart: true, activate};
  (window._JUPYTERLAB ??= {})[NAME] = {
    init() {},
    get: async () => () => ({default: [plugin], __esModule: true}),
  };
})();
