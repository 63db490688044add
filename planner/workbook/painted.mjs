// What is painted: the cells, the steps back and forward, and what Python is told.
//
// Python hears of every finished stroke, keeps it, and answers with the stroke's number. Cells lie
// as in a Chart: row 0 is the bottom one, column 0 the left; a byte is the yarn's place in the
// list, 255 no stitch. On the way to Python two bytes each of rows and columns go before them, so
// that shape and cells can never come apart.
//
// The browser keeps what Python has not answered yet, and the steps back and forward. It keeps
// them in letters, since a yarn's place may be another one when the piece is opened again. Strokes
// that no kernel has heard are offered when the piece is opened the next time.

const NO_STITCH = 255;
const NO_STITCH_LETTER = ".";
const MOST_ROWS = 2000;
const MOST_STITCHES = 1000;

// Of the steps back, and of those forward: how many, and how long they are as text.
const MOST_STEPS = 200;
const MOST_TEXT = 500_000;
const MOST_CELLS = 4_000_000;

// In milliseconds: an answer that is worth a word, one that is overdue, and a stroke so old that
// the page it was painted on is gone.
const SLOW = 500;
const OVERDUE = 4000;
const ABANDONED = 10_000;

// ---- geometry

/** The cells of the straight line between two cells, both included (Bresenham 1965). */
export function line(x0, y0, x1, y1) {
  const across = Math.abs(x1 - x0);
  const up = Math.abs(y1 - y0);
  const steep = up > across;
  const [long, short] = steep ? [up, across] : [across, up];
  const [stepX, stepY] = [x1 > x0 ? 1 : -1, y1 > y0 ? 1 : -1];
  const cells = [];
  let [x, y] = [x0, y0];
  let owed = 2 * short - long;
  for (let i = 0; i < long; i++) {
    cells.push([x, y]);
    if (owed >= 0) {
      if (steep) x += stepX; else y += stepY;
      owed -= 2 * long;
    }
    if (steep) y += stepY; else x += stepX;
    owed += 2 * short;
  }
  cells.push([x1, y1]);
  return cells;
}

/**
 * Fill the area of one yarn around a cell; rows below `from` stay.
 *
 * Cells belong together side by side and one above the other. Whole stretches of a row are filled
 * at once, and what touches them above and below waits its turn.
 */
export function fill(cells, rows, columns, x, y, yarn, from = 0) {
  const old = cells[y * columns + x];
  if (old === yarn || y < from) return;
  const waiting = [[x, y]];
  while (waiting.length) {
    const [cx, cy] = waiting.pop();
    const row = cy * columns;
    if (cells[row + cx] !== old) continue;
    let [lo, hi] = [cx, cx];
    while (lo > 0 && cells[row + lo - 1] === old) lo--;
    while (hi < columns - 1 && cells[row + hi + 1] === old) hi++;
    cells.fill(yarn, row + lo, row + hi + 1);
    for (const next of [cy - 1, cy + 1]) {
      if (next < from || next >= rows) continue;
      for (let i = lo; i <= hi; i++)
        if (cells[next * columns + i] === old) waiting.push([i, next]);
    }
  }
}

/** The cells with rows or stitches more (in `yarn`) or fewer at each side. */
export function reshape(cells, rows, columns, sides, yarn) {
  const { top = 0, bottom = 0, left = 0, right = 0 } = sides;
  const [newRows, newColumns] = [rows + top + bottom, columns + left + right];
  const reshaped = new Uint8Array(newRows * newColumns).fill(yarn);
  for (let y = Math.max(0, -bottom); y < rows && y + bottom < newRows; y++)
    for (let x = Math.max(0, -left); x < columns && x + left < newColumns; x++)
      reshaped[(y + bottom) * newColumns + x + left] = cells[y * columns + x];
  return { cells: reshaped, rows: newRows, columns: newColumns };
}

const bytesOf = (view) =>
  new Uint8Array(view.buffer ?? view, view.byteOffset ?? 0, view.byteLength);
const between = (least, value, most) => Math.max(least, Math.min(most, value));
const sameShape = (a, b) => a.rows === b.rows && a.columns === b.columns;
const same = (a, b) => sameShape(a, b) && a.cells.every((byte, i) => byte === b.cells[i]);

// ---- steps from one chart to another
//
// A step is the shape of the chart it leads to, and runs of cells: [first, how many, letter]. It
// holds the cells that change; of a chart of another shape it holds all.

/** The runs of those cells that `belongs` is true of; `letterOf` names the yarn at a place. */
function runsOf(cells, belongs, letterOf) {
  const runs = [];
  let run = [0, 0, ""];
  cells.forEach((place, i) => {
    if (!belongs(i)) return;
    const letter = letterOf(place);
    const goesOn = run[0] + run[1] === i && run[2] === letter;
    if (goesOn) run[1] += 1;
    else runs.push(run = [i, 1, letter]);
  });
  return runs;
}

/** The step that makes one chart of another. */
export function stepTo(after, before, letterOf) {
  const { rows, columns, cells } = after;
  const fits = sameShape(before, after);
  const changes = (i) => !fits || before.cells[i] !== cells[i];
  return { rows, columns, runs: runsOf(cells, changes, letterOf) };
}

const cellsOf = (step) => step.runs.reduce((sum, [, count]) => sum + count, 0);
const isWhole = (step) => cellsOf(step) === step.rows * step.columns;

/** The chart that a step leads to; null where it does not fit or one of its yarns is unknown. */
export function take(step, chart, placeOf) {
  const { rows, columns, runs } = step;
  const fits = sameShape(step, chart);
  if (!fits && !isWhole(step)) return null;
  const cells = fits ? chart.cells.slice() : new Uint8Array(rows * columns);
  for (const [first, count, letter] of runs) {
    const place = placeOf(letter);
    if (place < 0) return null;
    cells.fill(place, first, first + count);
  }
  return { rows, columns, cells };
}

/** Whether something read from the browser's store is a step. */
function isStep(step) {
  const { rows, columns, runs } = step ?? {};
  const isCount = (number) => Number.isInteger(number) && number > 0;
  const size = rows * columns;
  if (!isCount(rows) || !isCount(columns) || size > MOST_CELLS) return false;
  const isRun = (run) => {
    if (!Array.isArray(run)) return false;
    const [first, count, letter] = run;
    const inside = Number.isInteger(first) && first >= 0 && first + count <= size;
    return inside && isCount(count) && typeof letter === "string";
  };
  return Array.isArray(runs) && runs.every(isRun) && cellsOf(step) <= size;
}

/** Put a step on a pile; the oldest ones go when the pile grows too large. */
function pile(steps, step) {
  steps.push(step);
  const length = ({ runs }) => 40 + 14 * runs.length;  // about, as text
  let text = steps.reduce((sum, each) => sum + length(each), 0);
  while (steps.length > MOST_STEPS || (text > MOST_TEXT && steps.length > 1))
    text -= length(steps.shift());
}

/** A number that tells charts apart, by shape and letters (FNV-1a, 32 bits). */
export function fingerprint({ rows, columns, cells }, letterOf) {
  let sum = 0x811c9dc5;
  const add = (text) => {
    for (let i = 0; i < text.length; i++)
      sum = Math.imul(sum ^ text.charCodeAt(i), 0x01000193);
  };
  add(`${rows} ${columns} `);
  for (const place of cells) add(`${letterOf(place)} `);
  return sum >>> 0;
}

// ---- what the browser keeps
//
// The store may be full, forbidden or damaged. Painting then goes on without it.

const STEPS = "chart painting, steps: ";
const UNHEARD = "chart painting, unheard: ";

function readStore(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

function storedKeys(start) {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(start));
  } catch {
    return [];
  }
}

function removeStored(key) {
  try {
    localStorage.removeItem(key);
  } catch {
    // What cannot be reached cannot be in the way.
  }
}

/** Write into the store; whether it is there now. */
function writeStore(key, value) {
  const text = JSON.stringify(value);
  // In a full store the steps of other pieces give way.
  const others = storedKeys(STEPS).filter((each) => each !== key);
  for (const makeRoom of [false, true]) {
    if (makeRoom) others.forEach(removeStored);
    try {
      localStorage.setItem(key, text);
      return true;
    } catch {
      // Full, or forbidden: once more, with more room.
    }
  }
  removeStored(key);  // what is out of date is worse than nothing
  return false;
}

// ---- what is painted

// What changes what is seen when Python sets it, beside the grid.
const WATCHED = ["yarns", "aspect", "begins_right", "worked", "headline", "trouble", "strand_of"];

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
    this.past = [];
    this.future = [];
    this.views = new Set();
    this.yarn = 0;
    this.remark = "";
    this.gone = false;  // the kernel has stopped
    this.isNear = true;  // the server can be reached
    this.name = crypto.getRandomValues(new Uint32Array(2)).join("-");
    this.sent = model.get("stroke");
    this.sentAt = Infinity;  // the first stroke that is not answered
    this.unheardKey = "";
    this.safe = false;  // whether the browser could keep it
    this.setChart(this.held());
    this.restore();
    this.settled = { chart: this.chart(), past: this.past.slice() };
    // A byte a cell: whether it was painted since the last answer. Null: so was the whole chart.
    this.touched = new Uint8Array(this.cells.length);
    this.begun = null;  // the chart before the stroke that is being made
    if (!this.answered) this.wait();  // the page was opened anew meanwhile
    this.lookForUnheard();
    for (const trait of ["grid", "answered"]) model.on(`change:${trait}`, () => this.hear());
    for (const trait of WATCHED) model.on(`change:${trait}`, () => this.changed());
    watchKernel(model, {
      gone: () => this.lose(),
      reached: (isNear) => { this.isNear = isNear; this.changed(); },
    });
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

  /** Put a yarn into a cell, unless it lies outside the chart or in a row that is worked. */
  put(x, y, yarn) {
    const inside = x >= 0 && x < this.columns && y >= this.worked && y < this.rows;
    if (inside) this.cells[y * this.columns + x] = yarn;
  }

  fill(x, y, yarn) {
    fill(this.cells, this.rows, this.columns, x, y, yarn, this.worked);
  }

  choose(yarn) {
    this.yarn = yarn;
    this.changed();
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
    this.step(() => {
      const sides = { [side]: count };
      Object.assign(this, reshape(this.cells, this.rows, this.columns, sides, this.yarn));
    });
    return "";
  }
}
