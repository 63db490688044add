// What is painted: the cells, the steps back and forward, and what Python is told.
//
// Python hears of every finished stroke, keeps it, and answers with the stroke's number. Cells lie
// as in a Chart: row 0 is the bottom one, column 0 the left; a byte is the yarn's place in the
// list, 255 no stitch. On the way to Python two bytes each of rows and columns go before them, so
// that shape and cells can never come apart.
//
// The browser keeps what Python has not answered yet, and the steps back and forward (steps.mjs).
// Strokes that no kernel has heard are offered when the piece is opened the next time.

const NO_STITCH = 255;
const NO_STITCH_LETTER = ".";
const MOST_ROWS = 2000;
const MOST_STITCHES = 1000;

// In milliseconds: an answer that is worth a word, one that is overdue, and a stroke so old that
// the page it was painted on is gone.
const SLOW = 500;
const OVERDUE = 4000;
const ABANDONED = 10_000;

// What changes what is seen when Python sets it, beside the grid.
const WATCHED = [
  "yarns", "aspect", "begins_right", "tube", "worked", "headline", "trouble", "strand_of",
];

const TOOLS = "chart painting, tools: ";

// Kernels that are so, or become so, never answer this widget again.
const STOPPED = ["restarting", "autorestarting", "terminating", "dead"];

/** Call `gone` when the kernel behind a widget stops, `reached` when it comes near or goes away. */
function watchKernel(model, { gone, reached }) {
  // What a widget speaks through never comes back once it is closed.
  for (const event of ["comm_live_update", "comm:close", "destroy"]) model.on(event, gone);
  // JupyterLab knows more of its kernels; other places may know nothing.
  const kernel = model.widget_manager?.kernel;
  kernel?.disposed?.connect(gone);
  kernel?.statusChanged?.connect((_, status) => { if (STOPPED.includes(status)) gone(); });
  kernel?.connectionStatusChanged?.connect((_, status) => reached(status === "connected"));
}

/** What is painted, with its steps back and forward, however many views it has. */
class Painting {
  constructor(model) {
    this.model = model;
    this.views = new Set();
    this.remark = "";
    this.gone = false;  // the kernel has stopped
    this.isNear = true;  // the server can be reached
    this.name = crypto.getRandomValues(new Uint32Array(2)).join("-");
    this.sent = model.get("stroke");
    this.sentAt = Infinity;  // the first stroke that is not answered
    this.unheardKey = "";
    this.safe = false;  // whether the browser could keep it
    this.open();
    if (!this.answered) this.wait();  // the page was opened anew meanwhile
    for (const trait of ["grid", "answered", "sitting"])
      model.on(`change:${trait}`, () => this.hear());
    for (const trait of WATCHED)
      model.on(`change:${trait}`, () => { this.meet(); this.changed(); });
    watchKernel(model, {
      gone: () => this.lose(),
      reached: (isNear) => { this.isNear = isNear; this.changed(); },
    });
  }

  /** Begin with the piece that the model has, as it was left the last time. */
  open() {
    this.sitting = this.model.get("sitting");
    [this.past, this.future] = [[], []];
    this.yarn = Math.max(0, this.placeOf(this.keptTools().yarn ?? ""));
    this.begun = null;  // the chart before the stroke that is being made
    this.setChart(this.held());
    this.restore();
    this.settled = { chart: this.chart(), past: this.past.slice() };
    // A byte a cell: whether it was painted since the last answer. Null: so was the whole chart.
    this.touched = new Uint8Array(this.cells.length);
    this.lookForUnheard();
  }

  /** Take up another piece whole, whichever of its traits is heard of first. */
  meet() {
    if (this.sitting !== this.model.get("sitting")) this.open();
  }

  // --- the chart

  /** The chart as the model has it. */
  held() {
    const bytes = bytesOf(this.model.get("grid"));
    const [rows, columns] = [bytes[0] * 256 + bytes[1], bytes[2] * 256 + bytes[3]];
    return { rows, columns, cells: bytes.slice(4) };
  }

  chart() { return { rows: this.rows, columns: this.columns, cells: this.cells.slice() }; }
  setChart({ rows, columns, cells }) { Object.assign(this, { rows, columns, cells }); }

  packed() {
    const bytes = new Uint8Array(4 + this.cells.length);
    bytes.set([this.rows >> 8, this.rows & 255, this.columns >> 8, this.columns & 255]);
    bytes.set(this.cells, 4);
    return bytes;
  }

  /** The step from one chart to another, or to the chart as it is. */
  stepFrom(before, after = this) { return stepTo(after, before, (place) => this.letterOf(place)); }
  taken(step, chart = this) { return take(step, chart, (letter) => this.placeOf(letter)); }

  get worked() { return this.model.get("worked"); }
  get yarns() { return this.model.get("yarns"); }
  at(x, y) { return this.cells[y * this.columns + x]; }

  letterOf(place) {
    return place === NO_STITCH ? NO_STITCH_LETTER : this.yarns[place]?.letter ?? "";
  }

  placeOf(letter) {
    if (letter === NO_STITCH_LETTER) return NO_STITCH;
    return this.yarns.findIndex((yarn) => yarn.letter === letter);
  }

  yarnNamed(place) { return place === NO_STITCH ? "no stitch" : this.yarns[place].title; }

  // --- steps back and forward

  remember(before) {
    pile(this.past, this.stepFrom(this, before));
    this.future = [];
  }

  changed() { for (const view of this.views) view(); }

  /** Do something to the cells as one step that can be undone. */
  step(act) {
    const before = this.chart();
    act();
    this.finish(before);
  }

  /** A stroke that takes its time: from here to the end, or to where it is given up. */
  begin() { this.begun = this.chart(); }

  end() {
    const before = this.begun;
    this.begun = null;
    this.finish(before);
  }

  giveUp() {
    this.setChart(this.begun);
    this.begun = null;
    this.changed();
  }

  finish(before) {
    if (same(before, this)) return;
    this.remember(before);
    this.send(before);
  }

  back(from, to) {
    if (!from.length || this.begun) return;
    const chart = this.taken(from.pop());
    if (chart === null) {
      from.length = 0;
      this.remark = "That step needs a yarn that is gone, so Undo and Do again end here.";
      this.changed();
      return;
    }
    const before = this.chart();
    pile(to, this.stepFrom(chart));
    this.setChart(chart);
    this.send(before);
  }
  undo() { this.back(this.past, this.future); }
  redo() { this.back(this.future, this.past); }

  // --- to Python and back

  /** Send what is painted; all cells touched since the last answer are named again. */
  send(before) {
    const { model } = this;
    this.remark = "";
    this.touch(before);
    this.sent = Math.max(this.sent, model.get("stroke")) + 1;
    this.wait();
    this.keepUnheard();
    model.set("grid", new DataView(this.packed().buffer));
    model.set("touched", new DataView(this.touchedPlaces().buffer));
    model.set("stroke", this.sent);
    model.set("painted_in", this.sitting);
    model.save_changes();
    this.changed();
  }

  /** Note which cells have changed since `before`; all of them, if the chart's shape has. */
  touch(before) {
    if (!sameShape(before, this)) this.touched = null;
    this.touched?.forEach((_, i) => {
      if (before.cells[i] !== this.cells[i]) this.touched[i] = 1;
    });
  }

  /** The places of touched cells; none of them, if the whole chart is meant. */
  touchedPlaces() {
    const places = [];
    this.touched?.forEach((isTouched, i) => { if (isTouched) places.push(i); });
    return new Uint32Array(places);
  }

  touchedStep() {
    const belongs = (i) => this.touched === null || this.touched[i] === 1;
    const runs = runsOf(this.cells, belongs, (place) => this.letterOf(place));
    return { rows: this.rows, columns: this.columns, runs };
  }

  get answered() { return this.model.get("answered") >= this.sent; }

  /** How long a stroke has been waiting for its answer, in milliseconds. */
  get waited() { return performance.now() - this.sentAt; }

  get isSilent() { return this.waited > OVERDUE || !this.isNear; }

  wait() {
    if (this.sentAt !== Infinity) return;
    this.sentAt = performance.now();
    for (const wait of [SLOW, OVERDUE]) setTimeout(() => this.changed(), wait + 10);
  }

  /** Take up what Python has answered or set; our own chart comes back from there as well. */
  hear() {
    this.meet();
    const { begun } = this;
    const stroke = begun && this.stepFrom(begun);
    if (begun) this.setChart(begun);
    const held = this.held();
    if (!this.answered) this.takeUnder(held);
    else if (!same(held, this)) this.takeUp(held);
    if (this.answered) this.settle();
    if (begun) {  // the stroke that is being made goes on
      this.begun = this.chart();
      this.setChart(this.taken(stroke) ?? this);
    }
    this.changed();
  }

  takeUp(held) {
    const refused = this.model.get("trouble") && same(held, this.settled.chart);
    const before = this.chart();
    this.setChart(held);
    if (refused) {
      // It can be done again once the trouble is mended.
      this.past = this.settled.past.slice();
      this.future = [this.stepFrom(held, before)];
    } else {
      this.remember(before);  // a chart that was loaded can be undone like a stroke
    }
  }

  /** A change from elsewhere while strokes of ours are on their way: these lie on top of it. */
  takeUnder(held) {
    if (same(held, this) || same(held, this.settled.chart)) return;
    const before = this.chart();
    this.setChart(this.taken(this.touchedStep(), held) ?? held);
    this.remember(before);
    this.settled = { chart: held, past: this.past.slice() };
    if (!sameShape(before, this)) this.touched = new Uint8Array(this.cells.length);
  }

  /** Everything is answered: the chart is the one that Python holds. */
  settle() {
    const isOurs = this.sentAt !== Infinity;
    this.gone = false;
    this.sentAt = Infinity;
    this.touched = new Uint8Array(this.cells.length);
    this.settled = { chart: this.chart(), past: this.past.slice() };
    if (this.unheardKey) removeStored(this.unheardKey);
    this.unheardKey = "";
    this.forgetIfThere();
    this.keepSteps(isOurs);
  }

  /** The kernel has stopped, and what this widget speaks through with it. */
  lose() {
    if (this.gone) return;
    this.gone = true;
    if (this.unheardKey) this.keepUnheard();
    this.changed();
  }

  // --- what outlives this page and its kernel

  get piece() { return this.model.get("piece"); }
  fingerprint() { return fingerprint(this, (place) => this.letterOf(place)); }

  /** The steps of the last time, if the chart is still the one in which they meet. */
  restore() {
    const { chart, past, future } = (this.piece && readStore(STEPS + this.piece)) || {};
    const areSteps = (steps) => Array.isArray(steps) && steps.every(isStep);
    if (!areSteps(past) || !areSteps(future)) return;
    if (chart === this.fingerprint()) Object.assign(this, { past, future });
    else if (past.length) this.remark = "The chart was changed elsewhere, so Undo begins anew.";
  }

  keepSteps(isOurs) {
    const { piece, past, future } = this;
    if (!piece) return;
    const [key, chart] = [STEPS + piece, this.fingerprint()];
    // The window in which a stroke was made keeps the steps to it; it knows more of them.
    if (isOurs || readStore(key)?.chart !== chart) writeStore(key, { chart, past, future });
  }

  /** Have the browser keep what the kernel has not answered. */
  keepUnheard() {
    const { piece, gone } = this;
    if (!piece) return;
    this.unheardKey = UNHEARD + this.name;
    const strokes = { piece, at: Date.now(), gone, step: this.touchedStep() };
    this.safe = writeStore(this.unheardKey, strokes);
  }

  /** Look for strokes on this piece that no kernel has heard, painted before or elsewhere. */
  lookForUnheard() {
    const others = storedKeys(UNHEARD).filter((key) => key !== this.unheardKey);
    const strokes = others.map((key) => ({ ...readStore(key), key }));
    const isOfThis = ({ piece, step }) => piece && piece === this.piece && isStep(step);
    const sound = strokes.filter(isOfThis);
    // What is fresh may belong to a window that still waits for its answer.
    this.unheard = sound.filter(({ at, gone }) => gone || !(Date.now() - at < ABANDONED));
    this.unheard.sort((a, b) => a.at - b.at);
    this.forgetIfThere();
    if (this.unheard.length < sound.length) {
      setTimeout(() => { this.lookForUnheard(); this.changed(); }, ABANDONED);
    }
  }

  /**
   * The chart with the strokes that nobody has heard, how many stitches they change, and how many
   * cannot be put in; null if there is nothing of the kind.
   */
  offer() {
    if (!this.unheard.length) return null;
    let chart = this.chart();
    let lost = 0;
    for (const { step } of this.unheard) {
      if (sameShape(step, chart)) lost += this.putOnto(chart, step);
      else if (isWhole(step)) chart = this.taken(step, chart) ?? chart;
      else lost += cellsOf(step);
    }
    const stitches = cellsOf(this.stepFrom(this, chart));
    return stitches + lost ? { chart, stitches, lost } : null;
  }

  /** Put a step's cells onto a chart, one by one; how many are worked or of an unknown yarn. */
  putOnto({ cells, columns }, step) {
    let lost = 0;
    for (const [first, count, letter] of step.runs) {
      const place = this.placeOf(letter);
      for (let i = first; i < first + count; i++) {
        if (cells[i] === place) continue;
        if (place < 0 || i < this.worked * columns) lost += 1;
        else cells[i] = place;
      }
    }
    return lost;
  }

  putIn() {
    const before = this.chart();
    this.setChart(this.offer().chart);
    this.finish(before);  // which keeps them anew until they are answered
    this.forget();
  }

  /** Forget strokes that are on the chart by now. */
  forgetIfThere() {
    if (this.unheard.length && !this.offer()) this.forget();
  }

  forget() {
    for (const { key } of this.unheard) removeStored(key);
    this.unheard = [];
    this.changed();
  }

  // --- painting

  /** What the cells would be after something is done to them. */
  tried(act) {
    const { cells } = this;
    this.cells = cells.slice();
    act();
    const changed = this.cells;
    this.cells = cells;
    return changed;
  }

  /** Put a yarn into a cell, unless it lies outside the chart or in a row that is worked. */
  put(x, y, yarn) {
    const inside = x >= 0 && x < this.columns && y >= this.worked && y < this.rows;
    if (inside) this.cells[y * this.columns + x] = yarn;
  }

  putLine(from, to) {
    for (const [x, y] of line(...from, ...to)) this.put(x, y, this.yarn);
  }

  putBlock(from, to) {
    const { x, y, columns, rows } = block(...from, ...to);
    this.setDown({ rows, columns, cells: new Uint8Array(rows * columns).fill(this.yarn) }, [x, y]);
  }

  /** Put in a part, its lower left stitch at this place; stitches of the yarn `without` are not. */
  setDown({ columns, cells }, [x, y], without = null) {
    cells.forEach((yarn, i) => {
      if (yarn !== without) this.put(x + (i % columns), y + Math.floor(i / columns), yarn);
    });
  }

  /** Fill the area around a cell; in rounds it goes round the tube. */
  fill(x, y) {
    const tube = this.model.get("tube");
    fill(this.cells, this.rows, this.columns, x, y, this.yarn, { from: this.worked, tube });
  }

  choose(yarn) {
    this.yarn = yarn;
    this.keepTools({ yarn: this.letterOf(yarn) });
    this.changed();
  }

  // --- the yarn and the way that are chosen, as long as the browser's window is open

  keptTools() {
    try {
      if (!this.piece) return {};
      return JSON.parse(sessionStorage.getItem(TOOLS + this.piece)) ?? {};
    } catch {
      return {};  // forbidden or damaged: one begins with the first of both
    }
  }

  keepTools(chosen) {
    if (!this.piece) return;
    try {
      sessionStorage.setItem(TOOLS + this.piece, JSON.stringify({ ...this.keptTools(), ...chosen }));
    } catch {
      // What cannot be kept is chosen once more.
    }
  }

  // --- one yarn more

  /** The first letter that no yarn has. */
  freeLetter() {
    const letters = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"];
    const pairs = letters.flatMap((first) => letters.map((second) => first + second));
    return [...letters, ...pairs].find((letter) => this.placeOf(letter) < 0) ?? "";
  }

  /** Have Python put down a yarn; `answered` is told what is wrong with it, or nothing. */
  addYarn(yarn, answered) {
    const answer = ({ added, refused = "" }) => {
      if (added === undefined && !refused) return;
      this.model.off("msg:custom", answer);
      if (added !== undefined) this.choose(this.placeOf(added));
      answered(refused);
    };
    this.model.on("msg:custom", answer);
    this.model.send({ yarn });
  }

  /** More or fewer rows or stitches at a side; what is wrong with that in words, or nothing. */
  reshape(side, count) {
    const upright = side === "top" || side === "bottom";
    const rows = this.rows + (upright ? count : 0);
    const columns = this.columns + (upright ? 0 : count);
    if (!count) return "Say how many.";
    if (this.worked && side !== "top")
      return `Rows 1 to ${this.worked} are worked, so only rows at the top can come or go.`;
    if (rows < Math.max(1, this.worked))
      return `There are ${this.rows} rows, ${this.worked} of them worked: fewer can go.`;
    if (columns < 1) return `There are ${this.columns} stitches in a row: fewer can go.`;
    if (rows > MOST_ROWS || columns > MOST_STITCHES)
      return `A chart to paint has at most ${MOST_ROWS} rows and ${MOST_STITCHES} stitches.`;
    this.step(() => this.setChart(reshape(this, { [side]: count })));
    return "";
  }
}
