// The chart to paint on, with pointer or keys, at the gauge's true aspect.
//
// Everything happens here and at once, also while the kernel is busy. What is painted stands in
// painted.mjs: a widget is one module that can import no other file, so that the two are sent as
// one text, painted.mjs first.
//
// Paper      what is drawn: sizes, places, cells, lines, letters and rulers; one for each view
// View       the paper with its buttons and words, the pointer and the keys

// In pixels: the rulers at the sides and below, a rim above, the most that the paper is high, and
// the width of a scroll bar.
const SIDE = 36;
const FOOT = 20;
const RIM = 4;
const TALLEST = 640;
const SCROLL_BAR = 16;

const SMALLEST_CELL = 2;
const LARGEST_CELL = 60;
const LARGEST_FITTED = 26;
const ZOOM = 1.3;
const TYPED_TOGETHER = 900;  // milliseconds in which letters make one name

const NO_STRAND = 65535;
const GREY = "#e4e4e4";
const INK = "#222222";

// ---- the page's elements

function make(tag, properties = {}, ...children) {
  const { style = {}, ...rest } = properties;
  const element = Object.assign(document.createElement(tag), rest);
  Object.assign(element.style, style);
  element.append(...children);  // strings become text, never markup
  return element;
}

function makeButton(text, title, act) {
  return make("button", { type: "button", textContent: text, title, onclick: act });
}

const STYLE = `
.painting { font: 13px/1.5 system-ui, sans-serif; outline: none }
.painting .line { display: flex; flex-wrap: wrap; gap: 6px; align-items: center; margin: 4px 0 }
.painting button {
  font: inherit; padding: 2px 9px; border: 1px solid #888; border-radius: 3px;
  background: #f4f4f4; color: #222
}
.painting button[aria-pressed=true] {
  background: #fff; border-color: #222; box-shadow: inset 0 0 0 2px #222
}
.painting button:disabled { opacity: .45 }
.painting .patch {
  display: inline-block; width: 14px; height: 14px; border: 1px solid #222;
  vertical-align: -2px; margin-right: 6px
}
.painting .paper { position: relative; max-width: 100%; margin: 2px 0 }
.painting .paper canvas { position: absolute; left: 0; top: 0; pointer-events: none }
.painting .cloth {
  position: absolute; overflow: auto; touch-action: none; cursor: crosshair; outline-offset: -1px
}
.painting .trouble { color: #a33000 }
[data-jp-theme-light=false] .painting .trouble { color: #ff9b6b }
.painting .kept { opacity: .75; min-height: 1.5em }
.painting .offer { border-left: 4px solid #d08000; padding: 4px 8px }
.painting .offer[hidden] { display: none }
.painting input[type=number] { width: 4.5em }
.painting summary { cursor: pointer }`;

const KEYS = [
  "Arrow keys move from stitch to stitch, Page Up and Page Down by ten rows, Home and End to the "
    + "edges.",
  "A yarn's letter chooses it, a full stop chooses no stitch. Space or Enter puts it in; with "
    + "Shift the arrow keys put it in as they move. Delete takes a stitch out of the chart "
    + "(no stitch).",
  "Ctrl + Enter fills the area of one yarn that you stand in. Ctrl + Z undoes, Ctrl + Y does again "
    + "what was undone.",
  "+ and − draw the chart larger and smaller, 0 shows it whole. Tab leaves the chart.",
  "With the pointer, Shift draws a straight line from the stitch put in last. Two fingers move the "
    + "chart.",
];

// Where the keys take the pointer of work: columns to the right and rows up.
const MOVES = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, 1],
  ArrowDown: [0, -1],
  PageUp: [0, 10],
  PageDown: [0, -10],
  Home: [-9999, 0],
  End: [9999, 0],
};

// ---- the paper

const pixelBytes = new Uint8Array(4);
const pixelWord = new Uint32Array(pixelBytes.buffer);

/** #rrggbb as an ImageData holds it, in this machine's order of bytes. */
function pixel(colour) {
  pixelBytes.set([1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16)));
  pixelBytes[3] = 255;
  return pixelWord[0];
}

/** Stroke lines of one look; `each` is given the function that draws one of them. */
function strokes(ctx, width, style, each) {
  Object.assign(ctx, { lineWidth: width, strokeStyle: style });
  ctx.beginPath();
  each((ax, ay, bx, by) => { ctx.moveTo(ax, ay); ctx.lineTo(bx, by); });
  ctx.stroke();
}

/** The chart as it is seen: one stitch is `cell` pixels wide, and `cursor` is where work stands. */
class Paper {
  constructor(painting, el) {
    this.painting = painting;
    this.model = painting.model;
    this.el = el;
    this.cell = 0;
    this.cursor = [painting.columns - 1, painting.worked < painting.rows ? painting.worked : 0];
    this.fitted = false;  // an output that is not shown yet has no width to fit
    this.drawing = false;
    this.small = document.createElement("canvas");
    this.canvas = make("canvas");
    this.spacer = make("div");
    this.cloth = make("div", { className: "cloth", tabIndex: 0 }, this.spacer);
    this.cloth.setAttribute("role", "application");
    this.element = make("div", { className: "paper" }, this.canvas, this.cloth);
    for (const kind of ["scroll", "focus", "blur"])
      this.cloth.addEventListener(kind, () => this.requestDraw());
  }

  // --- sizes and places

  get high() { return this.cell * this.model.get("aspect"); }
  get room() { return Math.max(120, (this.el.clientWidth || 900) - 2 * SIDE - 20); }

  fit() {
    const { rows, columns } = this.painting;
    this.fitted = this.el.clientWidth > 0;
    const byWidth = this.room / columns;
    const byHeight = TALLEST / (rows * this.model.get("aspect"));
    this.cell = Math.max(SMALLEST_CELL, Math.min(LARGEST_FITTED, byWidth, byHeight));
    this.layOut();
  }

  /** Larger or smaller, the same place staying in the middle. */
  zoom(times) {
    const { cloth } = this;
    const across = (cloth.scrollLeft + cloth.clientWidth / 2) / this.cell;
    const down = (cloth.scrollTop + cloth.clientHeight / 2) / this.cell;
    this.cell = between(SMALLEST_CELL, this.cell * times, LARGEST_CELL);
    this.layOut();  // which may have made the cloth larger
    cloth.scrollLeft = across * this.cell - cloth.clientWidth / 2;
    cloth.scrollTop = down * this.cell - cloth.clientHeight / 2;
  }

  layOut() {
    const [wide, tall] = [this.painting.columns * this.cell, this.painting.rows * this.high];
    const scrolls = wide > this.room + 1 || tall > TALLEST + 1;
    const bar = scrolls ? SCROLL_BAR : 0;
    const [w, h] = [Math.min(wide, this.room) + bar, Math.min(tall, TALLEST) + bar];
    const place = { left: `${SIDE}px`, top: `${RIM}px` };
    Object.assign(this.spacer.style, { width: `${wide}px`, height: `${tall}px` });
    Object.assign(this.cloth.style, place, { width: `${w}px`, height: `${h}px` });
    const size = { width: `${w + 2 * SIDE}px`, height: `${h + FOOT + RIM}px` };
    Object.assign(this.element.style, size);
    this.requestDraw();
  }

  /** The cell under the pointer, which may lie outside the chart. */
  cellAt(event) {
    const box = this.cloth.getBoundingClientRect();
    const across = event.clientX - box.left + this.cloth.scrollLeft;
    const down = event.clientY - box.top + this.cloth.scrollTop;
    return [
      Math.floor(across / this.cell),
      this.painting.rows - 1 - Math.floor(down / this.high),
    ];
  }

  /** The nearest cell of the chart. */
  inside([x, y]) {
    const { rows, columns } = this.painting;
    return [between(0, x, columns - 1), between(0, y, rows - 1)];
  }

  /** Scroll a cell into sight. */
  show([x, y]) {
    const { cloth, cell, high } = this;
    const [left, top] = [x * cell, (this.painting.rows - 1 - y) * high];
    const [leftmost, topmost] = [left + cell - cloth.clientWidth, top + high - cloth.clientHeight];
    cloth.scrollLeft = Math.max(Math.min(cloth.scrollLeft, left), leftmost);
    cloth.scrollTop = Math.max(Math.min(cloth.scrollTop, top), topmost);
  }

  // --- drawing: the cells as one small image, scaled without smoothing; lines and letters only
  // where they are seen

  requestDraw() {
    if (this.drawing) return;
    this.drawing = true;
    requestAnimationFrame(() => { this.drawing = false; this.draw(); });
  }

  draw() {
    if (!this.el.isConnected) return;
    const { cloth } = this;
    const ctx = this.clearCanvas();
    const seen = this.seen();
    const strands = this.strands();
    ctx.save();
    ctx.beginPath();
    ctx.rect(SIDE, RIM, cloth.clientWidth, cloth.clientHeight);
    ctx.clip();
    this.drawCells(ctx, seen, strands);
    this.drawGrid(ctx, seen);
    this.drawBorders(ctx, seen, strands);
    this.drawLetters(ctx, seen, strands);
    this.drawWorked(ctx, seen);
    this.drawCursor(ctx, seen);
    ctx.restore();
    this.drawRulers(ctx, seen);
  }

  /** The canvas, empty, at the sharpness of the screen. */
  clearCanvas() {
    const { canvas, element } = this;
    const sharp = window.devicePixelRatio || 1;
    const [wide, tall] = [element.clientWidth, element.clientHeight];
    const [across, down] = [Math.round(wide * sharp), Math.round(tall * sharp)];
    if (canvas.width !== across || canvas.height !== down) {
      [canvas.width, canvas.height] = [across, down];
      Object.assign(canvas.style, { width: `${wide}px`, height: `${tall}px` });
    }
    const ctx = canvas.getContext("2d");
    ctx.setTransform(sharp, 0, 0, sharp, 0, 0);
    ctx.clearRect(0, 0, wide, tall);
    return ctx;
  }

  /** The cells in sight, and where the left edge of a column and the lower edge of a row lie. */
  seen() {
    const { cloth, cell, high } = this;
    const { rows, columns } = this.painting;
    const [left, top] = [SIDE - cloth.scrollLeft, RIM - cloth.scrollTop];
    const lastColumn = Math.floor((cloth.scrollLeft + cloth.clientWidth) / cell);
    const lowestRow = rows - 1 - Math.floor((cloth.scrollTop + cloth.clientHeight) / high);
    return {
      left,
      top,
      x0: Math.max(0, Math.floor(cloth.scrollLeft / cell)),
      x1: Math.min(columns - 1, lastColumn),
      y0: Math.max(0, lowestRow),
      y1: Math.min(rows - 1, rows - 1 - Math.floor(cloth.scrollTop / high)),
      X: (x) => Math.round(left + x * cell),
      Y: (y) => Math.round(top + (rows - y) * high),
    };
  }

  /** Whether strands are shown, and the strand of a cell by its place in the grid. */
  strands() {
    const { model } = this;
    const { cells } = this.painting;
    const of = new Uint16Array(bytesOf(model.get("strand_of")).slice().buffer);
    const strandYarn = model.get("strand_yarn");
    const shown = model.get("show_strands") && of.length === cells.length;
    // A cell that was painted since the strands were traced belongs to none of them.
    const traced = (i) => of[i] !== NO_STRAND && strandYarn[of[i]] === cells[i];
    return { shown, at: (i) => (shown && traced(i) ? of[i] : NO_STRAND) };
  }

  drawCells(ctx, { left, top }, strands) {
    const { small, painting } = this;
    const { rows, columns, cells } = painting;
    [small.width, small.height] = [columns, rows];
    const image = new ImageData(columns, rows);
    const pixels = new Uint32Array(image.data.buffer);
    const ofYarn = new Uint32Array(256).fill(pixel(GREY));
    painting.yarns.forEach((yarn, i) => { ofYarn[i] = pixel(yarn.colour); });
    const ofStrand = strands.shown ? this.model.get("tints").map(pixel) : [];
    for (let y = 0, i = 0; y < rows; y++) {
      // The image begins at the top, the cells at the bottom.
      for (let x = 0, j = (rows - 1 - y) * columns; x < columns; x++, i++, j++) {
        const strand = strands.at(i);
        pixels[j] = strand === NO_STRAND ? ofYarn[cells[i]] : ofStrand[strand];
      }
    }
    small.getContext("2d").putImageData(image, 0, 0);
    ctx.imageSmoothingEnabled = false;
    ctx.drawImage(small, left, top, columns * this.cell, rows * this.high);
  }

  /** Thin lines between all cells where there is room for them, and stronger ones every ten. */
  drawGrid(ctx, { x0, x1, y0, y1, X, Y }) {
    const { columns } = this.painting;
    const ruled = (every) => (stroke) => {
      for (let x = x0; x <= x1 + 1; x++)
        if ((columns - x) % every === 0) stroke(X(x) + 0.5, Y(y0), X(x) + 0.5, Y(y1 + 1));
      for (let y = y0; y <= y1 + 1; y++)
        if (y % every === 0) stroke(X(x0), Y(y) + 0.5, X(x1 + 1), Y(y) + 0.5);
    };
    if (this.cell >= 6 && this.high >= 5) strokes(ctx, 1, "#00000028", ruled(1));
    strokes(ctx, 1, "#00000060", ruled(10));
  }

  /** Borders between yarns, or between strands where these are shown. */
  drawBorders(ctx, { x0, x1, y0, y1, X, Y }, strands) {
    const { columns, cells } = this.painting;
    const worth = (i) => (strands.shown ? strands.at(i) * 256 + cells[i] : cells[i]);
    const usual = strands.shown ? 2 : 1.2;
    strokes(ctx, this.cell < 5 ? 0.6 : usual, INK, (stroke) => {
      for (let y = y0; y <= y1; y++) {
        for (let x = x0; x <= x1; x++) {
          const i = y * columns + x;
          if (x < x1 && worth(i) !== worth(i + 1))
            stroke(X(x + 1) + 0.5, Y(y), X(x + 1) + 0.5, Y(y + 1));
          if (y < y1 && worth(i) !== worth(i + columns))
            stroke(X(x), Y(y + 1) + 0.5, X(x + 1), Y(y + 1) + 0.5);
        }
      }
    });
  }

  /** A letter at the middle of every run that has room for it; of a strand, its label. */
  drawLetters(ctx, { x0, x1, y0, y1, X, Y }, strands) {
    const { columns, cells } = this.painting;
    const size = between(8, Math.min(this.high * 0.85, this.cell * 1.3), 13);
    const every = Math.max(1, Math.round(11 / this.high));
    const font = `${size}px system-ui, sans-serif`;
    Object.assign(ctx, { font, textAlign: "center", textBaseline: "middle" });
    for (let y = y0; y <= y1; y++) {
      if (y % every !== every >> 1) continue;
      for (let x = x0, from = x0; x <= x1; x++) {
        const i = y * columns + x;
        const sameYarn = x < x1 && cells[i + 1] === cells[i];
        if (sameYarn && strands.at(i + 1) === strands.at(i)) continue;
        const text = this.nameOf(i, strands);
        if ((x - from + 1) * this.cell >= size * (0.35 + 0.5 * text.length)) {
          ctx.fillStyle = this.inkOn(i, strands);
          ctx.fillText(text, (X(from) + X(x + 1)) / 2, (Y(y) + Y(y + 1)) / 2 + 0.5);
        }
        from = x + 1;
      }
    }
  }

  nameOf(i, strands) {
    const yarn = this.painting.cells[i];
    const strand = strands.at(i);
    if (yarn === NO_STITCH) return "·";
    if (strand !== NO_STRAND) return this.model.get("strand_labels")[strand];
    return this.painting.yarns[yarn]?.letter ?? "";
  }

  inkOn(i, strands) {
    const yarn = this.painting.cells[i];
    // Tints of strands are light, and so is the grey of no stitch.
    const light = yarn === NO_STITCH || strands.at(i) !== NO_STRAND;
    return light ? "#000000" : this.painting.yarns[yarn].ink;
  }

  /** Rows that are knitted, pale and hatched. */
  drawWorked(ctx, { X, Y }) {
    const { worked, columns } = this.painting;
    if (!worked) return;
    ctx.fillStyle = "#ffffff66";
    ctx.fillRect(X(0), Y(worked), columns * this.cell, worked * this.high);
    strokes(ctx, 1, "#00000055", (stroke) => {
      const [low, up] = [Y(0), Y(worked)];
      for (let x = X(0) - (low - up); x < X(columns); x += 12) stroke(x, low, x + low - up, up);
    });
  }

  /** The pointer of work: dark on white where the keys are heard, else only a hint of it. */
  drawCursor(ctx, { X, Y }) {
    const [x, y] = this.cursor;
    const focused = document.activeElement === this.cloth;
    const [around, within] = focused ? ["#ffffff", INK] : ["#ffffff00", "#22222288"];
    const [wide, tall] = [X(x + 1) - X(x), Y(y) - Y(y + 1)];
    for (const [grow, style] of [[1.5, around], [0, within]]) {
      Object.assign(ctx, { lineWidth: 2, strokeStyle: style });
      ctx.strokeRect(X(x) - grow, Y(y + 1) - grow, wide + 2 * grow, tall + 2 * grow);
    }
  }

  /** Row numbers stand where the row begins; stitches are numbered from the right. */
  drawRulers(ctx, seen) {
    const font = "10px system-ui, sans-serif";
    const fillStyle = getComputedStyle(this.element).color;
    Object.assign(ctx, { font, fillStyle, textBaseline: "middle" });
    this.drawRowNumbers(ctx, seen);
    Object.assign(ctx, { textAlign: "center", textBaseline: "top" });
    this.drawStitchNumbers(ctx, seen);
  }

  drawRowNumbers(ctx, { y0, y1, X, Y }) {
    const { cloth } = this;
    const begins = this.model.get("begins_right");
    const [pace, bothSides] = [pacing(this.high, 10), begins[0] !== begins[1]];
    const right = Math.min(X(this.painting.columns), SIDE + cloth.clientWidth) + RIM;
    for (let y = y0; y <= y1; y++) {
      const number = y + 1;
      // An even pace would show the numbers of one side only.
      const pair = bothSides && pace % 2 === 0 && (number + 1) % pace === 0;
      if (number !== 1 && number % pace && !pair) continue;
      const middle = (Y(y) + Y(y + 1)) / 2;
      if (middle < RIM || middle > RIM + cloth.clientHeight) continue;
      const atRight = begins[y % 2];
      ctx.textAlign = atRight ? "left" : "right";
      ctx.fillText(number, atRight ? right : SIDE - RIM, middle);
    }
  }

  drawStitchNumbers(ctx, { x0, x1, X, Y }) {
    const { cloth } = this;
    const pace = pacing(this.cell, 22);
    const foot = Math.min(Y(0), RIM + cloth.clientHeight) + RIM;
    for (let x = x0; x <= x1; x++) {
      const number = this.painting.columns - x;
      const middle = (X(x) + X(x + 1)) / 2;
      const inSight = middle >= SIDE && middle <= SIDE + cloth.clientWidth;
      if (inSight && (number === 1 || number % pace === 0)) ctx.fillText(number, middle, foot);
    }
  }
}

/** Every how many of this size in pixels there is room for a number. */
function pacing(size, least) {
  return [1, 2, 5, 10, 20, 50, 100].find((pace) => pace * size >= least) ?? 200;
}

// ---- the view

class View {
  constructor(painting, el) {
    this.painting = painting;
    this.model = painting.model;
    this.paper = new Paper(painting, el);
    this.last = null;  // the stitch put in last, from which Shift draws a line
    this.filling = false;
    this.said = "";
    this.typed = "";
    this.typedAt = 0;
    // The stroke that is being made: where it is, and the fingers that touch.
    this.at = null;
    this.fingers = new Map();
    el.append(this.build());
    this.listen();
  }

  // --- what there is to see

  build() {
    this.chips = make("div", { className: "line", role: "group", ariaLabel: "Yarn to put in" });
    this.place = make("div", { role: "status" });
    this.headline = make("div", { style: { whiteSpace: "pre-line", fontWeight: 600 } });
    this.trouble = make("div", { className: "trouble", role: "alert" });
    this.kept = make("div", { className: "kept" });
    this.offer = make("div", { className: "line offer", role: "status" });
    this.offered = "";
    const root = make(
      "div",
      { className: "painting" },
      make("style", { textContent: STYLE }),
      this.chips,
      this.buildTools(),
      make("details", {}, summary("More or fewer rows and stitches"), this.buildSizes()),
      this.offer,
      this.paper.element,
      this.place,
      this.headline,
      this.trouble,
      this.kept,
      make("details", {}, summary("Painting with the keyboard"), ...KEYS.map(paragraph)),
    );
    root.dataset.lmSuppressShortcuts = "true";  // JupyterLab leaves the keys to the painting
    return root;
  }

  buildTools() {
    const { painting, paper, model } = this;
    const fillAreas = (filling) => () => { this.filling = filling; this.update(); };
    this.single = makeButton(
      "Stitch by stitch", "Put in single stitches and lines", fillAreas(false),
    );
    this.whole = makeButton(
      "Fill an area", "Fill the area of one yarn that you point at", fillAreas(true),
    );
    this.undo = makeButton("Undo", "Ctrl + Z", () => painting.undo());
    this.redo = makeButton("Do again", "Ctrl + Y", () => painting.redo());
    const larger = makeButton("Larger", "+", () => paper.zoom(ZOOM));
    const smaller = makeButton("Smaller", "−", () => paper.zoom(1 / ZOOM));
    const fitted = makeButton("Whole chart", "0", () => paper.fit());
    const showStrands = () => {
      model.set("show_strands", this.strands.checked);
      model.save_changes();
      this.update();
    };
    this.strands = make("input", { type: "checkbox", onchange: showStrands });
    const label = make("label", {}, this.strands, " show the strands");
    const steps = [this.single, this.whole, this.undo, this.redo];
    return make("div", { className: "line" }, ...steps, larger, smaller, fitted, label);
  }

  buildSizes() {
    const what = make(
      "select",
      { ariaLabel: "add or take away" },
      new Option("Add", 1),
      new Option("Take away", -1),
    );
    const count = make("input", { type: "number", min: 1, value: 1, ariaLabel: "how many" });
    const side = make(
      "select",
      { ariaLabel: "where" },
      new Option("rows at the top", "top"),
      new Option("rows at the bottom", "bottom"),
      new Option("stitches at the left", "left"),
      new Option("stitches at the right", "right"),
    );
    const doIt = makeButton("Do it", "", () => {
      const many = Math.max(0, Math.round(Number(count.value)));
      this.say(this.painting.reshape(side.value, Number(what.value) * many));
      if (!this.said) this.paper.fit();
    });
    const note = " New ones are in the yarn chosen above.";
    return make("div", { className: "line" }, what, count, side, doIt, note);
  }

  say(text) {
    this.said = text;
    this.update();
  }

  /** Show what is painted, what it comes to, and what is the matter. */
  update() {
    const { painting, paper, model } = this;
    paper.cursor = paper.inside(paper.cursor);
    const gone = painting.yarn !== NO_STITCH && painting.yarn >= painting.yarns.length;
    if (gone) painting.yarn = 0;
    this.updateChips();
    [this.single.ariaPressed, this.whole.ariaPressed] = [`${!this.filling}`, `${this.filling}`];
    this.undo.disabled = !painting.past.length;
    this.redo.disabled = !painting.future.length;
    this.strands.checked = model.get("show_strands");
    this.headline.textContent = model.get("headline");
    this.headline.dataset.stroke = model.get("answered");
    const troubles = [this.said, model.get("trouble"), this.silence()].filter(Boolean);
    this.trouble.textContent = troubles.map((text) => `▲ ${text}`).join(" ");
    this.kept.textContent = [this.keeping(), painting.remark].filter(Boolean).join(" · ");
    this.updateOffer();
    this.tellPlace();
    paper.layOut();
  }

  /** What to say when the kernel does not answer; "" while it does. */
  silence() {
    const { gone, isSilent, piece, safe, waited } = this.painting;
    // Before the first stroke nobody knows whether the browser can keep it.
    const keeps = piece && (safe || waited < 0);
    if (gone && keeps)
      return "The notebook's kernel has stopped, so nothing is planned any more. This page keeps "
        + "what you paint. Run the cells again (menu Run, Run All Cells), and it is offered.";
    if (gone)
      return "The notebook's kernel has stopped, so what you paint now is not kept. Run the cells "
        + "again (menu Run, Run All Cells) before you go on.";
    if (!isSilent) return "";
    const meanwhile = keeps ? " This page keeps what you paint until it answers." : "";
    return `The notebook's kernel does not answer: it is busy, or it has stopped.${meanwhile}`;
  }

  /** Whether what is seen is kept, in a word or two. */
  keeping() {
    const { gone, isSilent, waited } = this.painting;
    if (gone || isSilent || this.model.get("trouble")) return "";
    return waited > SLOW ? "keeping …" : "✓ kept";
  }

  /** What nobody has heard, with buttons to put it in or forget it. */
  updateOffer() {
    const { painting } = this;
    const offer = painting.gone ? null : painting.offer();
    this.offer.hidden = offer === null;
    const text = offer === null ? "" : inWords(offer, painting);
    if (this.offered === text) return;  // a button that is being pressed stays the same
    this.offered = text;
    const put = makeButton("Put them in", "", () => painting.putIn());
    const forget = makeButton("Forget them", "", () => painting.forget());
    const buttons = offer?.stitches ? [put, forget] : [forget];
    this.offer.replaceChildren(text, ...buttons);
  }

  updateChips() {
    const { painting } = this;
    const chip = (place) => {
      const none = place === NO_STITCH;
      const yarn = painting.yarns[place];
      const patch = make("span", {
        className: "patch", style: { background: none ? GREY : yarn.colour },
      });
      const text = none ? ". no stitch" : yarn.title;
      const choose = () => painting.choose(place);
      const element = make("button", { type: "button", onclick: choose }, patch, text);
      element.ariaPressed = `${painting.yarn === place}`;
      return element;
    };
    this.chips.replaceChildren(...[...painting.yarns.keys(), NO_STITCH].map(chip));
  }

  tellPlace() {
    const { painting, paper } = this;
    const [x, y] = paper.cursor;
    const edge = this.model.get("begins_right")[y % 2] ? "right" : "left";
    const row = `Row ${y + 1}, which begins at the ${edge}`;
    const stitch = `stitch ${painting.columns - x} from the right`;
    const yarn = painting.yarnNamed(painting.at(x, y));
    const worked = y < painting.worked ? " This row is worked and stays as it is." : "";
    const chosen = painting.yarnNamed(painting.yarn);
    this.place.textContent = `${row}; ${stitch}: ${yarn}.${worked} Chosen: ${chosen}.`;
    const size = `Chart of ${painting.columns} stitches and ${painting.rows} rows.`;
    paper.cloth.ariaLabel = `${size} ${this.place.textContent}`;
  }

  /** What to say about a cell that cannot be painted; "" about another one. */
  refusal([, y]) {
    const { worked } = this.painting;
    return y < worked ? `Rows 1 to ${worked} are worked and stay as they are.` : "";
  }

  listen() {
    const { cloth } = this.paper;
    cloth.addEventListener("pointerdown", (event) => this.press(event));
    cloth.addEventListener("pointermove", (event) => this.drag(event));
    cloth.addEventListener("pointerup", (event) => this.lift(event));
    cloth.addEventListener("pointercancel", (event) => this.lift(event));
    cloth.addEventListener("keydown", (event) => this.key(event));
  }

  // --- the pointer: samples are joined by lines, so that a quick stroke leaves no gap

  press(event) {
    const { painting, paper, fingers } = this;
    const { cloth } = paper;
    const box = cloth.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    if (x >= cloth.clientWidth || y >= cloth.clientHeight) return;  // a scroll bar
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size > 1) {  // a second finger: not a stroke but a move
      if (painting.begun) painting.giveUp();
      return;
    }
    if (event.button !== 0) return;
    event.preventDefault();
    cloth.focus({ preventScroll: true });
    cloth.setPointerCapture(event.pointerId);
    painting.begin();
    this.at = paper.cursor = paper.cellAt(event);
    this.said = this.refusal(this.at);
    if (this.filling) painting.fill(...this.at, painting.yarn);
    else this.putLine(event.shiftKey && this.last ? this.last : this.at, this.at);
    paper.requestDraw();
  }

  putLine(from, to) {
    const { painting } = this;
    for (const [x, y] of line(...from, ...to)) painting.put(x, y, painting.yarn);
  }

  drag(event) {
    const { painting, paper, fingers } = this;
    if (fingers.size > 1 && fingers.has(event.pointerId)) {
      this.scroll(event);
      return;
    }
    if (!painting.begun || this.filling) return;
    // Between two frames the pointer may have been in several places.
    const samples = event.getCoalescedEvents?.() ?? [];
    for (const sample of samples.length ? samples : [event]) {
      const to = paper.cellAt(sample);
      this.putLine(this.at, to);
      this.at = to;
    }
    paper.cursor = paper.inside(this.at);
    paper.requestDraw();
  }

  /** Move the chart with several fingers, each of them by its share. */
  scroll(event) {
    const { fingers, paper } = this;
    const [x, y] = fingers.get(event.pointerId);
    paper.cloth.scrollLeft -= (event.clientX - x) / fingers.size;
    paper.cloth.scrollTop -= (event.clientY - y) / fingers.size;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  }

  lift(event) {
    this.fingers.delete(event.pointerId);
    if (!this.painting.begun) return;
    this.last = this.paper.cursor;
    this.painting.end();
    this.update();
  }

  // --- the keys

  key(event) {
    if (event.key.length > 1) this.typed = "";
    const control = event.ctrlKey || event.metaKey;
    const understood = control ? this.controlKey(event) : !event.altKey && this.plainKey(event);
    if (!understood) return;
    event.preventDefault();
    event.stopPropagation();
  }

  controlKey(event) {
    const { painting, paper } = this;
    const key = event.key.toLowerCase();
    if (key === "z") (event.shiftKey ? painting.redo() : painting.undo());
    else if (key === "y") painting.redo();
    else if (key === "enter") painting.step(() => painting.fill(...paper.cursor, painting.yarn));
    else return false;
    return true;
  }

  plainKey(event) {
    const { painting, paper } = this;
    const { key } = event;
    if (key in MOVES) this.move(...MOVES[key], event.shiftKey);
    else if (key === "Enter" || key === " ") this.putHere(painting.yarn);
    else if (key === "Delete" || key === "Backspace") this.putHere(NO_STITCH);
    else if (key === "+" || key === "=") paper.zoom(ZOOM);
    else if (key === "-" || key === "−") paper.zoom(1 / ZOOM);
    else if (key === "0") paper.fit();
    else if (key === ".") painting.choose(NO_STITCH);
    else if (/^\p{L}$/u.test(key)) this.chooseByLetter(key);
    else return false;
    return true;
  }

  move(dx, dy, putting) {
    const { painting, paper } = this;
    const [x, y] = paper.cursor;
    const to = paper.inside([x + dx, y + dy]);
    if (putting) painting.step(() => this.putLine([x, y], to));
    paper.cursor = to;
    paper.show(to);
    this.tellPlace();
    paper.requestDraw();
  }

  putHere(yarn) {
    const { painting, paper } = this;
    this.said = this.refusal(paper.cursor);
    painting.step(() => painting.put(...paper.cursor, yarn));
    this.last = paper.cursor;
    this.update();
  }

  /** A yarn by its letter; letters typed in quick succession make one name of two or three. */
  chooseByLetter(key) {
    const now = Date.now();
    this.typed = now - this.typedAt < TYPED_TOGETHER ? this.typed + key : key;
    this.typedAt = now;
    const letters = this.painting.yarns.map((yarn) => yarn.letter);
    const fold = (text) => text.toLocaleLowerCase();
    const folded = letters.map(fold);
    // The longest name wins, and one in the same case before one in another.
    const names = [this.typed.slice(-3), this.typed.slice(-2), key];
    const places = names.flatMap((name) => [letters.indexOf(name), folded.indexOf(fold(name))]);
    const found = places.find((place) => place >= 0);
    if (found !== undefined) this.painting.choose(found);
  }
}

/** What is offered, in words. */
function inWords({ chart, stitches, lost }, painting) {
  const count = (many) => (many === 1 ? "1 stitch" : `${many} stitches`);
  const when = "painted while nobody listened";
  const sentences = [];
  if (!sameShape(chart, painting))
    sentences.push(`A chart of ${count(chart.columns)} and ${chart.rows} rows was ${when}.`);
  else if (stitches) sentences.push(`${count(stitches)} ${when}.`);
  if (lost) {
    sentences.push(
      `${count(lost)} ${when} cannot be put in: the row is worked, the yarn is gone, or the chart `
      + "has another size now.",
    );
  }
  return sentences.join(" ");
}

const summary = (text) => make("summary", { textContent: text });
const paragraph = (text) => make("div", { textContent: text });

/** A widget: one painting, whatever views of it come and go. */
export default () => {
  let [ownModel, painting] = [null, null];
  return {
    // What listens through the model of a view falls silent with the view.
    initialize({ model }) { ownModel = model; },
    render({ el }) {
      // Not before: a new widget's traits come one by one.
      painting ??= new Painting(ownModel);
      const view = new View(painting, el);
      const update = () => view.update();
      painting.views.add(update);
      const observer = new ResizeObserver(() => {
        if (view.paper.fitted) view.paper.layOut();
        else view.paper.fit();
      });
      observer.observe(el);
      view.paper.fit();
      view.update();
      return () => { painting.views.delete(update); observer.disconnect(); };
    },
  };
};
