// The paper: the chart as it is seen, at the gauge's true aspect.
//
// Sizes, places, cells, lines, letters and rulers; one for each view. The cells are one small image
// that is scaled; lines and letters are drawn only where they are seen.

// In pixels: the rulers at the sides and below, a rim above, the width of a scroll bar, and what is
// above and below the paper on the first screen of a notebook.
const SIDE = 36;
const FOOT = 20;
const RIM = 4;
const SCROLL_BAR = 16;
const AROUND = 420;
const [LEAST_TALL, MOST_TALL] = [280, 800];

// Of a stitch: as small as it must be for the whole chart, and no smaller when it is zoomed.
const SMALLEST_CELL = 2;
const LARGEST_CELL = 60;
const LARGEST_FITTED = 26;
const BORDERS_FROM = 1.5;
const ZOOM = 1.3;
const LETTERS_APART = 20;  // from row to row

const NO_STRAND = 65535;
const GREY = "#e4e4e4";
const INK = "#222222";
// Ground with more light than this takes black ink, as colour.py has it (WCAG 2).
const BLACK_ABOVE = 0.179;

function makeButton(text, title, act) {
  return make("button", { type: "button", textContent: text, title, onclick: act });
}

/** Black or white, whichever reads better on a shade, #rrggbb. */
function inkOnShade(colour) {
  const [red, green, blue] = [1, 3, 5].map((i) => {
    const share = parseInt(colour.slice(i, i + 2), 16) / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue > BLACK_ABOVE ? "black" : "white";
}

/** The chart as it is seen: one stitch is `cell` pixels wide, and `cursor` is where work stands. */
class Paper {
  /** `stacked` says how high the tools above the paper are; none, where they are beside it. */
  constructor(painting, stacked) {
    this.painting = painting;
    this.model = painting.model;
    this.stacked = stacked;
    this.cell = 0;
    this.begin();
    this.drawing = false;
    // What is about to be done to the cells, and the block of them that is framed.
    this.about = null;
    this.frame = null;
    this.small = document.createElement("canvas");
    this.canvas = make("canvas");
    this.spacer = make("div");
    this.cloth = make("div", { className: "cloth", tabIndex: 0 }, this.spacer);
    this.cloth.setAttribute("role", "application");
    this.element = make("div", { className: "paper" }, this.canvas, this.cloth);
    for (const kind of ["scroll", "focus", "blur"])
      this.cloth.addEventListener(kind, () => this.requestDraw());
  }

  /** As a piece is when it is opened: shown whole, and work stands where it goes on. */
  begin() {
    const { columns, rows, worked } = this.painting;
    this.cursor = [columns - 1, worked < rows ? worked : 0];
    this.zoomed = false;
  }

  // --- sizes and places

  get high() { return this.cell * this.model.get("aspect"); }

  /** How wide and how tall the chart may be: with its headline and tools it fits a screen. */
  get room() {
    // An output that is not shown yet has no width.
    const wide = Math.max(120, (this.element.parentElement?.clientWidth || 900) - 2 * SIDE - 20);
    const tall = between(LEAST_TALL, window.innerHeight - AROUND - this.stacked(), MOST_TALL);
    return [wide, tall];
  }

  fit() {
    this.zoomed = false;
    this.layOut();
  }

  /** Larger or smaller, the same place staying in the middle. */
  zoom(times) {
    const { cloth } = this;
    const across = (cloth.scrollLeft + cloth.clientWidth / 2) / this.cell;
    const down = (cloth.scrollTop + cloth.clientHeight / 2) / this.cell;
    this.cell = between(Math.min(SMALLEST_CELL, this.cell), this.cell * times, LARGEST_CELL);
    this.zoomed = true;
    this.layOut();  // which may have made the cloth larger
    cloth.scrollLeft = across * this.cell - cloth.clientWidth / 2;
    cloth.scrollTop = down * this.cell - cloth.clientHeight / 2;
  }

  layOut() {
    const { rows, columns } = this.painting;
    const [roomAcross, roomUp] = this.room;
    if (!this.zoomed) {
      const byHeight = roomUp / (rows * this.model.get("aspect"));
      this.cell = Math.min(LARGEST_FITTED, roomAcross / columns, byHeight);
    }
    const [wide, tall] = [columns * this.cell, rows * this.high];
    const scrolls = wide > roomAcross + 1 || tall > roomUp + 1;
    const bar = scrolls ? SCROLL_BAR : 0;
    const [w, h] = [Math.min(wide, roomAcross) + bar, Math.min(tall, roomUp) + bar];
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

  // --- drawing

  requestDraw() {
    if (this.drawing) return;
    this.drawing = true;
    requestAnimationFrame(() => { this.drawing = false; this.draw(); });
  }

  draw() {
    if (!this.element.isConnected) return;
    const { about, cloth, painting } = this;
    this.cells = about ? painting.tried(about) : painting.cells;
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
    this.drawFrame(ctx, seen);
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
    const { cells, model } = this;
    const of = new Uint16Array(bytesOf(model.get("strand_of")).slice().buffer);
    const strandYarn = model.get("strand_yarn");
    const shown = model.get("show_strands") && of.length === cells.length;
    // A cell that was painted since the strands were traced belongs to none of them.
    const traced = (i) => of[i] !== NO_STRAND && strandYarn[of[i]] === cells[i];
    const inks = shown ? model.get("tints").map(inkOnShade) : [];
    return { shown, inks, at: (i) => (shown && traced(i) ? of[i] : NO_STRAND) };
  }

  drawCells(ctx, { left, top }, strands) {
    const { cells, small, painting } = this;
    const { rows, columns } = painting;
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
    // Cells smaller than a pixel are mixed, or some of them would be left out.
    ctx.imageSmoothingEnabled = this.cell < 1 || this.high < 1;
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
    if (this.cell >= 5 && this.high >= 4) strokes(ctx, 1, "#00000028", ruled(1));
    strokes(ctx, 1, "#00000060", ruled(10));
  }

  /** Borders between yarns, or between strands where these are shown. */
  drawBorders(ctx, { x0, x1, y0, y1, X, Y }, strands) {
    if (Math.min(this.cell, this.high) < BORDERS_FROM) return;  // there would be nothing but lines
    const { cells } = this;
    const { columns } = this.painting;
    const worth = (i) => (strands.shown ? strands.at(i) * 256 + cells[i] : cells[i]);
    const isDark = (i) => this.inkOn(i, strands) === "white";
    // Between dark shades of a yarn a dark line would not be seen.
    const parts = (i, j, onDark) =>
      worth(i) !== worth(j) && onDark === (strands.shown && isDark(i) && isDark(j));
    const lines = (onDark) => (stroke) => {
      for (let y = y0; y <= y1; y++) {
        for (let x = x0; x <= x1; x++) {
          const i = y * columns + x;
          if (x < x1 && parts(i, i + 1, onDark))
            stroke(X(x + 1) + 0.5, Y(y), X(x + 1) + 0.5, Y(y + 1));
          if (y < y1 && parts(i, i + columns, onDark))
            stroke(X(x), Y(y + 1) + 0.5, X(x + 1), Y(y + 1) + 0.5);
        }
      }
    };
    const usual = strands.shown ? 2 : 1.2;
    const width = this.cell < 5 ? 0.6 : usual;
    strokes(ctx, width, INK, lines(false));
    if (strands.shown) strokes(ctx, width, "#ffffff", lines(true));
  }

  /** A letter at the middle of every run that has room for it; of a strand, its label. */
  drawLetters(ctx, { x0, x1, y0, y1, X, Y }, strands) {
    const { cells } = this;
    const { columns } = this.painting;
    const size = between(8, Math.min(this.high * 0.85, this.cell * 1.3), 13);
    const every = Math.max(1, Math.round(LETTERS_APART / this.high));
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
    const yarn = this.cells[i];
    const strand = strands.at(i);
    if (yarn === NO_STITCH) return "·";
    if (strand !== NO_STRAND) return this.model.get("strand_labels")[strand];
    return this.painting.yarns[yarn]?.letter ?? "";
  }

  inkOn(i, strands) {
    const yarn = this.cells[i];
    const strand = strands.at(i);
    if (strand !== NO_STRAND) return strands.inks[strand];
    // The grey of no stitch is light.
    return yarn === NO_STITCH ? "black" : this.painting.yarns[yarn].ink;
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

  /** The pointer of work, or the block that is framed: dark on white where the keys are heard. */
  drawFrame(ctx, { X, Y }) {
    const [cx, cy] = this.cursor;
    const { x, y, columns, rows } = this.frame ?? { x: cx, y: cy, columns: 1, rows: 1 };
    const strong = this.frame || document.activeElement === this.cloth;
    const [around, within] = strong ? ["#ffffff", INK] : ["#ffffff00", "#22222288"];
    const [wide, tall] = [X(x + columns) - X(x), Y(y) - Y(y + rows)];
    for (const [grow, style] of [[1.5, around], [0, within]]) {
      Object.assign(ctx, { lineWidth: 2, strokeStyle: style });
      ctx.strokeRect(X(x) - grow, Y(y + rows) - grow, wide + 2 * grow, tall + 2 * grow);
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
