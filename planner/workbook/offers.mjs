// The chart with a list beside it: what is touched in the list lights up on the chart, and of what
// is touched on the chart the list shows first what lies there.
//
// Light is an outline with all the rest dimmed, so that it does not hang on colour. All of it
// happens here and at once; Python hears only of what is pressed, and answers with the number of
// the press.
//
// Cells lie as in a Chart: row 0 is the bottom one, column 0 the left; a byte is the yarn's place
// in the list, 255 no stitch. Two bytes each of rows and columns go before them.
//
// It is sent with shared.mjs, which the chart to paint on has as well.
//
// Sheet      what is drawn: cells, lines, letters, what is lit and what is decided
// Board      the sheet, the figures and the list; the pointer and the keys

// In pixels: the rulers at the sides and below, a rim above; how high the chart may be, and how
// near to a stitch a touch may be that is meant for it.
const SIDE = 30;
const FOOT = 16;
const RIM = 4;
const TALLEST = 450;
const LARGEST_CELL = 22;
const BESIDE = 720;  // wide enough for the list to stand beside the chart
const NEAR = 7;

const LETTERS_APART = 28;

const FEW = 5;  // offers that are listed before all are asked for
const FEW_MORE = 2;
const OVERDUE = 4000;  // milliseconds after which an answer is missed
const NO_STITCH = 255;
const GREY = "#e4e4e4";
const INK = "#222222";

// What is shown anew when Python sends it.
const SHOWN = [
  "grid", "embroidered", "yarns", "aspect", "figures", "names", "items", "pricing", "taken", "refused",
  "grounds", "note", "said",
];

const STYLE = `
.offers { font: 13px/1.45 var(--jp-ui-font-family, system-ui, sans-serif);
  color: var(--jp-ui-font-color1, #222) }
.offers .figures { display: flex; flex-wrap: wrap; gap: 0 24px; margin: 0 0 6px;
  font-size: inherit; font-weight: inherit }
.offers .figures b { font-size: 18px; font-weight: 400; font-variant-numeric: tabular-nums;
  white-space: nowrap }
.offers .figures b.changes { font-weight: 700 }
.offers .board { display: flex; flex-wrap: wrap; gap: 8px 20px; align-items: flex-start }
/* A long list passes by the chart, which stays in sight. */
.offers .wide .left { position: sticky; top: 4px }
.jp-Cell:has(.offers), .jp-Cell :has(.offers) { overflow: visible !important }
.offers .list { flex: 1 1 330px; min-width: min(100%, 300px) }
.offers .paper { position: relative; flex: none }
.offers .paper canvas { position: absolute; left: 0; top: 0; pointer-events: none }
.offers .cloth { position: absolute; touch-action: manipulation; cursor: crosshair }
.offers .cloth.hit { cursor: pointer }
.offers .cloth:focus { outline: 2px solid var(--jp-brand-color1, #1a66c2); outline-offset: 2px }
.offers .place { min-height: 1.45em; margin: 2px 0 0 ${SIDE}px }
.offers h3 { font-size: 14px; font-weight: 600; margin: 0 0 4px; display: flex; gap: 10px;
  align-items: baseline; flex-wrap: wrap }
.offers ol { list-style: none; margin: 0 0 8px; padding: 0 }
.offers li { display: flex; gap: 4px 10px; align-items: flex-start; padding: 5px 6px;
  border: 1px solid transparent; border-bottom-color: var(--jp-border-color2, #ddd) }
.offers li.lit { border-color: currentColor; border-radius: 3px }
.offers li .words { flex: 1; min-width: 0; overflow-wrap: anywhere }
.offers li .words > :first-child::first-letter { text-transform: uppercase }
.offers li .change, .offers li .mind, .offers .note { font-size: 12px }
.offers li .mind::before { content: "▲ "; color: #d0561f }
.offers li.first-elsewhere { margin-top: 14px }
.offers .presses { display: flex; gap: 4px; flex: none }
.offers button { font: inherit; padding: 2px 9px; border: 1px solid var(--jp-border-color0, #888);
  border-radius: 3px; background: var(--jp-layout-color2, #f2f2f2); cursor: pointer;
  color: var(--jp-ui-font-color1, #222) }
.offers button:hover { background: var(--jp-layout-color3, #ddd) }
.offers button[aria-disabled=true] { opacity: .5; cursor: default }
.offers button.plain { border: 0; background: none; padding: 0; text-decoration: underline }
.offers button:focus-visible, .offers select:focus-visible, .offers summary:focus-visible {
  outline: 2px solid var(--jp-brand-color1, #1a66c2); outline-offset: 1px }
.offers select { font: inherit; max-width: 100%; color: inherit;
  background: var(--jp-layout-color1, #fff); border: 1px solid var(--jp-border-color0, #888) }
.offers .said { margin-bottom: 6px }
.offers .said:empty { display: none }
.offers details { margin: 6px 0 }
.offers summary { cursor: pointer }
.offers [hidden] { display: none !important }
@media (max-width: 600px), (pointer: coarse) { .offers button:not(.plain) { min-height: 32px } }`;

const counted = (number, noun) => `${number} ${noun}${number === 1 ? "" : "s"}`;

// ---- the sheet

class Sheet {
  constructor(model, el) {
    this.model = model;
    this.el = el;
    this.lit = null;  // the item that is lit
    this.cursor = [0, 0];
    this.drawing = false;
    this.small = document.createElement("canvas");
    this.canvas = make("canvas");
    this.cloth = make("div", { className: "cloth", tabIndex: 0 });
    this.cloth.setAttribute("role", "application");
    this.element = make("div", { className: "paper" }, this.canvas, this.cloth);
    for (const kind of ["focus", "blur"])
      this.cloth.addEventListener(kind, () => this.requestDraw());
    this.read();
  }

  /** Take over what Python has sent. */
  read() {
    const { model } = this;
    const bytes = bytesOf(model.get("grid"));
    const [rows, columns] = [bytes[0] * 256 + bytes[1], bytes[2] * 256 + bytes[3]];
    const isNew = rows !== this.rows || columns !== this.columns;
    Object.assign(this, { rows, columns, cells: bytes.subarray(4) });
    this.embroidered = bytesOf(model.get("embroidered"));
    this.yarns = model.get("yarns");
    if (isNew) this.cursor = [columns - 1, Math.min(model.get("worked"), rows - 1)];
    // By cell the items that lie there, as places in the list.
    this.at = new Map();
    model.get("items").forEach((item, place) => {
      for (const cell of this.cellsOf(item)) {
        if (!this.at.has(cell)) this.at.set(cell, []);
        this.at.get(cell).push(place);
      }
    });
    return isNew;
  }

  *cellsOf(item) {
    const seen = new Set();
    for (const [first, count] of item.parts)
      for (let cell = first; cell < first + count; cell++)
        if (!seen.has(cell)) { seen.add(cell); yield cell; }
  }

  // --- sizes and places

  get high() { return this.cell * this.model.get("aspect"); }

  fit() {
    const width = this.el.clientWidth || 900;
    // Beside the list where there is room for both.
    const isWide = width >= BESIDE;
    const room = (isWide ? 0.56 * width : width) - 2 * SIDE - 4;
    this.element.closest(".board")?.classList.toggle("wide", isWide);
    const byHeight = TALLEST / (this.rows * this.model.get("aspect"));
    this.cell = Math.min(LARGEST_CELL, room / this.columns, byHeight);
    const [wide, tall] = [this.columns * this.cell, this.rows * this.high];
    const px = (number) => `${number}px`;
    Object.assign(this.cloth.style, {
      left: px(SIDE), top: px(RIM), width: px(wide), height: px(tall),
    });
    Object.assign(this.element.style, {
      width: px(wide + 2 * SIDE), height: px(tall + FOOT + RIM),
    });
    this.requestDraw();
  }

  /** The nearest cell of the chart. */
  inside([x, y]) {
    return [between(0, x, this.columns - 1), between(0, y, this.rows - 1)];
  }

  cellUnder(event) {
    const box = this.cloth.getBoundingClientRect();
    const x = Math.floor((event.clientX - box.left) / box.width * this.columns);
    const y = this.rows - 1 - Math.floor((event.clientY - box.top) / box.height * this.rows);
    return this.inside([x, y]);
  }

  /** The places in the list of what lies at a cell; where nothing does, of what is very near. */
  itemsAt([x, y], alsoNear) {
    const exact = this.at.get(y * this.columns + x);
    if (exact || !alsoNear) return exact ?? [];
    const [across, up] = [Math.floor(NEAR / this.cell), Math.floor(NEAR / this.high)];
    let [found, nearest] = [[], Infinity];
    for (let dy = -up; dy <= up; dy++) {
      for (let dx = -across; dx <= across; dx++) {
        const [cx, cy] = [x + dx, y + dy];
        if (cx < 0 || cy < 0 || cx >= this.columns || cy >= this.rows) continue;
        const far = (dx * this.cell) ** 2 + (dy * this.high) ** 2;
        const items = this.at.get(cy * this.columns + cx);
        if (items && far < nearest) [found, nearest] = [items, far];
      }
    }
    return found;
  }

  // --- drawing: the cells as one small image, scaled without smoothing

  requestDraw() {
    if (this.drawing) return;
    this.drawing = true;
    requestAnimationFrame(() => { this.drawing = false; this.draw(); });
  }

  X(x) { return Math.round(SIDE + x * this.cell); }
  Y(y) { return Math.round(RIM + (this.rows - y) * this.high); }

  draw() {
    if (!this.el.isConnected) return;
    const ctx = this.clearCanvas();
    ctx.save();
    ctx.beginPath();
    ctx.rect(SIDE, RIM, this.columns * this.cell, this.rows * this.high);
    ctx.clip();
    this.drawCells(ctx);
    this.drawGrid(ctx);
    this.drawBorders(ctx);
    this.drawLetters(ctx);
    this.drawWorked(ctx);
    this.drawOffered(ctx);
    this.drawLit(ctx);
    this.drawDecided(ctx);
    this.drawCursor(ctx);
    ctx.restore();
    this.drawRulers(ctx);
  }

  /** The canvas, empty, at the sharpness of the screen. */
  clearCanvas() {
    const { canvas, element } = this;
    const sharp = window.devicePixelRatio || 1;
    const [wide, tall] = [element.clientWidth, element.clientHeight];
    [canvas.width, canvas.height] = [Math.round(wide * sharp), Math.round(tall * sharp)];
    Object.assign(canvas.style, { width: `${wide}px`, height: `${tall}px` });
    const ctx = canvas.getContext("2d");
    ctx.setTransform(sharp, 0, 0, sharp, 0, 0);
    return ctx;
  }

  /** Draw an image of one pixel a cell; `of` gives the pixel of a cell. */
  drawImage(ctx, of) {
    const { small, rows, columns } = this;
    [small.width, small.height] = [columns, rows];
    const image = new ImageData(columns, rows);
    const pixels = new Uint32Array(image.data.buffer);
    for (let y = 0, i = 0; y < rows; y++)
      // The image begins at the top, the cells at the bottom.
      for (let x = 0, j = (rows - 1 - y) * columns; x < columns; x++, i++, j++) pixels[j] = of(i);
    small.getContext("2d").putImageData(image, 0, 0);
    ctx.imageSmoothingEnabled = false;
    ctx.drawImage(small, SIDE, RIM, columns * this.cell, rows * this.high);
  }

  drawCells(ctx) {
    const ofYarn = new Uint32Array(256).fill(pixel(GREY));
    this.yarns.forEach((yarn, i) => { ofYarn[i] = pixel(yarn.colour); });
    this.drawImage(ctx, (i) => ofYarn[this.cells[i]]);
  }

  drawGrid(ctx) {
    const { rows, columns } = this;
    const ruled = (every) => (stroke) => {
      for (let x = columns % every; x <= columns; x += every)
        stroke(this.X(x) + 0.5, this.Y(0), this.X(x) + 0.5, this.Y(rows));
      for (let y = 0; y <= rows; y += every)
        stroke(this.X(0), this.Y(y) + 0.5, this.X(columns), this.Y(y) + 0.5);
    };
    if (this.cell >= 6 && this.high >= 4.5) strokes(ctx, 1, "#00000022", ruled(1));
    strokes(ctx, 1, "#00000050", ruled(10));
  }

  /** Lines where cells on both sides differ; `worth` tells what a cell is. */
  borders(worth) {
    const { rows, columns } = this;
    return (stroke) => {
      for (let y = 0; y < rows; y++) {
        for (let x = 0; x < columns; x++) {
          const i = y * columns + x;
          if (x + 1 < columns && worth(i) !== worth(i + 1))
            stroke(this.X(x + 1) + 0.5, this.Y(y), this.X(x + 1) + 0.5, this.Y(y + 1));
          if (y + 1 < rows && worth(i) !== worth(i + columns))
            stroke(this.X(x), this.Y(y + 1) + 0.5, this.X(x + 1), this.Y(y + 1) + 0.5);
        }
      }
    };
  }

  drawBorders(ctx) {
    strokes(ctx, this.cell < 5 ? 0.6 : 1.2, INK, this.borders((i) => this.cells[i]));
  }

  /** A letter at the middle of every run that has room for it. */
  drawLetters(ctx) {
    const { columns, cells } = this;
    const size = between(8, Math.min(this.high * 0.85, this.cell * 1.3), 12);
    const every = Math.max(1, Math.round(LETTERS_APART / this.high));
    const font = `${size}px system-ui, sans-serif`;
    Object.assign(ctx, { font, textAlign: "center", textBaseline: "middle" });
    for (let y = every >> 1; y < this.rows; y += every) {
      for (let x = 0, from = 0; x < columns; x++) {
        const i = y * columns + x;
        if (x + 1 < columns && cells[i + 1] === cells[i]) continue;
        const yarn = this.yarns[cells[i]];
        const room = (x - from + 1) * this.cell;
        if (yarn && room >= size * (0.35 + 0.5 * yarn.letter.length)) {
          ctx.fillStyle = yarn.ink;
          const middle = (this.Y(y) + this.Y(y + 1)) / 2 + 0.5;
          ctx.fillText(yarn.letter, (this.X(from) + this.X(x + 1)) / 2, middle);
        }
        from = x + 1;
      }
    }
  }

  /** Rows that are knitted, pale and hatched; where these are touched, the rest is greyed. */
  drawWorked(ctx) {
    const worked = this.model.get("worked");
    if (this.model.get("touches")) {
      // Hatched means knitted on every chart, but a stitch that is looked for must be seen.
      ctx.fillStyle = "#a8a8a8c4";
      ctx.fillRect(this.X(0), this.Y(this.rows), this.columns * this.cell,
        this.Y(worked) - this.Y(this.rows));
      return;
    }
    if (!worked) return;
    const [low, up] = [this.Y(0), this.Y(worked)];
    ctx.fillStyle = "#ffffff66";
    ctx.fillRect(this.X(0), up, this.columns * this.cell, low - up);
    strokes(ctx, 1, "#00000055", (stroke) => {
      for (let x = this.X(0) - (low - up); x < this.X(this.columns); x += 12)
        stroke(x, low, x + low - up, up);
    });
  }

  /** What is offered: a dashed line round areas to embroider, a ring where a carry begins. */
  drawOffered(ctx) {
    const offered = new Uint8Array(this.cells.length);
    const singly = this.model.get("singly");
    for (const item of this.model.get("items")) {
      const isOutlined = item.about === "embroider" || item.about === "mend";
      if (isOutlined) for (const cell of this.cellsOf(item)) offered[cell] = 1;
      for (const way of item.ways) {
        // What is only taken together is drawn as it would be.
        if (singly) this.drawRing(ctx, way[0], way[1]);
        else this.drawWay(ctx, way, []);
      }
    }
    const border = this.borders((i) => offered[i]);
    strokes(ctx, 2.2, "#ffffff", border);
    strokes(ctx, 1.4, INK, border, [3, 3]);
  }

  /** What is lit: outlined, its carries drawn, all the rest dimmed. */
  drawLit(ctx) {
    const { lit } = this;
    if (!lit) return;
    const isLit = new Uint8Array(this.cells.length);
    for (const cell of this.cellsOf(lit)) isLit[cell] = 1;
    const dim = pixel("#ffffff", 165);
    this.drawImage(ctx, (i) => (isLit[i] ? 0 : dim));
    const border = this.borders((i) => isLit[i]);
    strokes(ctx, 5, "#ffffff", border);
    strokes(ctx, 2.6, "#000000", border);
    for (const way of lit.ways) this.drawWay(ctx, way, [5, 3]);
  }

  /** What was taken: a V on each embroidered stitch, a line with its ends for each carry. */
  drawDecided(ctx) {
    const { columns } = this;
    const signs = this.cell >= 5;
    this.yarns.forEach((yarn, place) => strokes(ctx, 1.3, yarn.ink, (stroke) => {
      this.embroidered.forEach((is, i) => {
        if (!is || this.cells[i] !== place) return;
        const [x, y] = [i % columns, Math.floor(i / columns)];
        // Where stitches are too small for a V each, every third is marked.
        if (!signs && (x + y) % 3) return;
        const [middle, half] = [(this.X(x) + this.X(x + 1) + 1) / 2, Math.max(2.5, this.cell / 2 - 1)];
        const [up, low] = [this.Y(y + 1) + 1.5, Math.max(this.Y(y) - 0.5, this.Y(y + 1) + 5)];
        stroke(middle - half, up, middle, low);
        stroke(middle, low, middle + half, up);
      });
    }));
    for (const item of this.model.get("taken"))
      for (const way of item.ways) this.drawWay(ctx, way, []);
  }

  drawRing(ctx, edge, row) {
    const [x, y] = [SIDE + edge * this.cell, RIM + (this.rows - row - 0.5) * this.high];
    for (const [width, style] of [[2.6, "#ffffff"], [1.2, INK]]) {
      Object.assign(ctx, { lineWidth: width, strokeStyle: style });
      ctx.beginPath();
      ctx.arc(x, y, between(1.2, 0.3 * this.cell, 3), 0, 7);
      ctx.stroke();
    }
  }

  /** The way of a carry, a ring at each of its ends; round a tube it is drawn at both sides. */
  drawWay(ctx, [fromEdge, fromRow, toEdge, toRow], dash) {
    const wide = this.columns * this.cell;
    const x = (edge) => SIDE + edge * this.cell;
    const y = (row) => RIM + (this.rows - row - 0.5) * this.high;
    const round = toEdge < 0 || toEdge > this.columns;
    for (const aside of round ? [-wide, 0, wide] : [0]) {
      for (const [width, style] of [[3.4, "#ffffff"], [1.6, "#000000"]]) {
        strokes(ctx, width, style, (stroke) => {
          stroke(x(fromEdge) + aside, y(fromRow), x(toEdge) + aside, y(toRow));
        }, dash);
      }
    }
    this.drawRing(ctx, fromEdge, fromRow);
    if (!round) this.drawRing(ctx, toEdge, toRow);
  }

  /** The pointer of work, where the keys are heard. */
  drawCursor(ctx) {
    if (document.activeElement !== this.cloth) return;
    const [x, y] = this.cursor;
    const [left, up] = [this.X(x), this.Y(y + 1)];
    const [wide, tall] = [this.X(x + 1) - left, this.Y(y) - up];
    for (const [grow, style] of [[2.5, "#ffffff"], [1, INK]]) {
      Object.assign(ctx, { lineWidth: 2, strokeStyle: style });
      ctx.strokeRect(left - grow, up - grow, wide + 2 * grow, tall + 2 * grow);
    }
  }

  /** Row numbers stand where the row begins; stitches are numbered from the right. */
  drawRulers(ctx) {
    const { rows, columns } = this;
    const begins = this.model.get("begins_right");
    const font = "10px system-ui, sans-serif";
    const fillStyle = getComputedStyle(this.element).color;
    Object.assign(ctx, { font, fillStyle, textBaseline: "middle" });
    const [pace, bothSides] = [pacing(this.high, 11), begins[0] !== begins[1]];
    for (let y = 0; y < rows; y++) {
      const number = y + 1;
      // An even pace would show the numbers of one side only.
      const pair = bothSides && pace % 2 === 0 && (number + 1) % pace === 0;
      if (number !== 1 && number % pace && !pair) continue;
      const atRight = begins[y % 2];
      ctx.textAlign = atRight ? "left" : "right";
      const x = atRight ? this.X(columns) + 4 : SIDE - 4;
      ctx.fillText(number, x, (this.Y(y) + this.Y(y + 1)) / 2);
    }
    Object.assign(ctx, { textAlign: "center", textBaseline: "top" });
    const apart = pacing(this.cell, 24);
    for (let number = 1; number <= columns; number++) {
      if (number !== 1 && number % apart) continue;
      const x = columns - number;
      ctx.fillText(number, (this.X(x) + this.X(x + 1)) / 2, this.Y(0) + 4);
    }
  }
}

// ---- the board

class Board {
  constructor(model, el) {
    this.model = model;
    this.el = el;
    this.spot = null;  // the cell whose items are shown first
    this.all = false;
    this.pinned = null;  // the item that stays lit until another one is touched
    this.press = 0;
    this.pressed = "";  // of what the press was, to find it again
    this.waiting = null;
    this.sheet = new Sheet(model, el);
    this.figures = make("div", { className: "figures plan-headline" });
    this.place = make("div", { className: "place" });
    this.place.setAttribute("aria-live", "polite");
    this.said = make("div", { className: "said" });
    this.taken = make("section");
    this.list = make("section");
    this.ground = make("select");
    this.refused = make("details");
    this.note = make("div", { className: "note" });
    this.grade = make("details", { className: "note" },
      make("summary", { textContent: "How well is this known?" }),
      make("p", { textContent: "What is said of embroidery, and what is marked ▲, is common "
        + "practice: no published source says it." }));
    this.groundLine = make("label", { className: "note" }, "Embroidered ones are knitted in ",
      this.ground);
    const left = make("div", { className: "left" }, this.sheet.element, this.place);
    const right = make("div", { className: "list" }, this.said, this.taken, this.list,
      this.groundLine, this.note, this.grade, this.refused);
    this.root = make("div", { className: "offers" }, make("style", { textContent: STYLE }),
      this.figures, make("div", { className: "board" }, left, right));
    el.append(this.root);
    this.listen();
  }

  listen() {
    const { sheet, model } = this;
    const { cloth } = sheet;
    cloth.addEventListener("pointermove", (event) => this.hover(event));
    cloth.addEventListener("pointerleave", () => { this.light(this.pinned); this.tellPlace(); });
    cloth.addEventListener("click", (event) => this.choose(sheet.cellUnder(event)));
    cloth.addEventListener("keydown", (event) => this.key(event));
    cloth.addEventListener("focus", () => this.tellPlace());
    this.heard = SHOWN.map((name) => [`change:${name}`, () => this.update()]);
    this.heard.push(["change:answered", () => this.answer()]);
    for (const [name, act] of this.heard) model.on(name, act);
  }

  stop() {
    for (const [name, act] of this.heard) this.model.off(name, act);
    clearTimeout(this.waiting);
  }

  // --- what is shown

  /** Show what Python has sent, once for all that comes together. */
  update() {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => { this.due = false; this.showAll(); });
  }

  showAll() {
    const { sheet, model } = this;
    const focused = this.focusedPress();
    if (sheet.read()) [this.spot, this.pinned, this.all] = [null, null, false];
    const same = (item) => item && model.get("items").find((each) => each.key === item.key);
    this.pinned = same(this.pinned) ?? null;
    sheet.lit = null;
    sheet.fit();
    const [what, enter] = model.get("touches")
      ? ["to touch what is wrong", "marks a stitch or forgets it"]
      : ["with what is offered", "goes to what is offered there"];
    sheet.cloth.setAttribute("aria-label", `Chart of ${model.get("title")} ${what}. `
      + `Arrow keys move from stitch to stitch, Enter ${enter}.`);
    this.showFigures();
    this.said.innerHTML = model.get("said");
    this.showTaken();
    this.showList();
    this.showGrounds();
    this.note.textContent = model.get("note");
    this.grade.hidden = !model.get("items").some(({ about }) => about === "embroider");
    this.showRefused();
    this.tellPlace();
    this.light(this.pinned);
    this.focusAgain(focused);
  }

  showFigures(after = []) {
    const { model } = this;
    const now = model.get("figures");
    // What is only taken together says above what it changes.
    this.figures.hidden = !model.get("singly");
    const figures = model.get("names").map((name, i) => {
      const changes = after.length && after[i] !== now[i];
      const figure = changes ? `${now[i]} → ${after[i]}` : now[i];
      const number = make("b", { textContent: figure, className: changes ? "changes" : "" });
      return make("span", {}, number, ` ${name}`);
    });
    this.figures.replaceChildren(...figures);
  }

  button(text, name, act, properties = {}) {
    const button = make("button", { type: "button", textContent: text, ...properties });
    button.setAttribute("aria-label", `${text}: ${name}`);
    button.dataset.press = `${text}: ${name}`;
    button.onclick = () => { if (button.getAttribute("aria-disabled") !== "true") act(); };
    return button;
  }

  /** A line of a list, with its buttons; it lights up when it is touched or has the focus. */
  line(item, presses) {
    const words = make("div", { className: "words" }, make("div", { textContent: item.what }));
    for (const part of ["change", "mind"])
      if (item[part]) words.append(make("div", { className: part, textContent: item[part] }));
    const line = make("li", {}, words, make("div", { className: "presses" }, ...presses));
    line.item = item;
    line.addEventListener("pointerenter", (event) => {
      if (event.pointerType === "mouse") this.light(item);
    });
    line.addEventListener("pointerleave", (event) => {
      if (event.pointerType === "mouse") this.light(this.pinned);
    });
    // By a press of the pointer nothing is to stay lit: the line is under it anyway.
    line.addEventListener("focusin", (event) => {
      if (!event.target.matches(":focus-visible")) return;
      this.pinned = item;
      this.light(item);
    });
    line.addEventListener("click", (event) => {
      if (event.target.closest("button")) return;
      this.pinned = this.pinned === item ? null : item;
      this.light(this.pinned ?? item);
    });
    // Without buttons the line itself is reached by the keys.
    if (!presses.length) line.tabIndex = 0;
    return line;
  }

  showTaken() {
    const items = this.model.get("taken");
    this.taken.hidden = !items.length;
    const all = this.button("Take all back", "what was taken", () => this.send("take all back"),
      { className: "plain" });
    const heading = make("h3", {}, `Taken: ${items.length}`);
    if (items.length > 1) heading.append(all);
    const lines = items.map((item) => this.line(item,
      [this.button("Take back", item.what, () => this.send("take back", item.key))]));
    this.taken.replaceChildren(heading, make("ol", {}, ...lines));
  }

  showList() {
    const { model, spot, sheet } = this;
    const items = model.get("items");
    const pricing = model.get("pricing");
    const singly = model.get("singly");
    const at = new Set(spot ? sheet.itemsAt(spot, true) : []);
    const first = items.filter((_, place) => at.has(place));
    const others = items.filter((_, place) => !at.has(place));
    const few = Math.max(FEW, first.length);
    const folds = !this.all && singly && items.length > few + FEW_MORE;
    const listed = [...first, ...others].slice(0, folds ? few : items.length);
    const lines = listed.map((item) => this.line(item, singly ? [
      this.button("Take", item.what, () => this.send("take", item.key)),
      this.button("Refuse", item.what, () => this.send("refuse", item.key)),
    ] : []));
    if (first.length && lines.length > first.length)
      lines[first.length].classList.add("first-elsewhere");
    if (pricing)
      for (const line of lines)
        for (const button of line.querySelectorAll("button"))
          button.setAttribute("aria-disabled", "true");
    const parts = [make("ol", {}, ...lines)];
    if (singly) parts.unshift(this.heading(items.length, first.length, pricing));
    if (folds || this.all && items.length > FEW + FEW_MORE) {
      const fold = this.button(this.all ? "only the first" : `all ${items.length}`, "offers",
        () => { this.all = !this.all; this.showAll(); }, { className: "plain" });
      parts.push(fold);
    }
    this.list.replaceChildren(...parts);
  }

  heading(count, here, pricing) {
    const heading = make("h3");
    if (this.spot) {
      heading.append(`Offered at ${this.placeInWords(this.spot)}: ${here || "nothing"}`);
      const forget = () => { this.spot = null; this.pinned = null; this.showAll(); };
      heading.append(this.button("all, best first", "forget the spot", forget,
        { className: "plain" }));
    } else if (!count && !pricing) heading.append("Nothing to offer.");
    else heading.append(`Offered: ${count}, best first`);
    if (pricing) heading.append(make("span", { className: "note", textContent: "being priced …" }));
    return heading;
  }

  showGrounds() {
    const { model, ground } = this;
    const embroideries = model.get("items").some((item) => item.about === "embroider");
    this.groundLine.hidden = !model.get("singly") || !embroideries;
    const chosen = ground.value;
    const options = model.get("grounds").map(([value, textContent]) =>
      make("option", { value, textContent }));
    ground.replaceChildren(...options);
    if (options.some((option) => option.value === chosen)) ground.value = chosen;
  }

  showRefused() {
    const items = this.model.get("refused");
    this.refused.hidden = !items.length;
    const lines = items.map((item) => this.line(item,
      [this.button("Bring back", item.what, () => this.send("take back", item.key))]));
    this.refused.replaceChildren(make("summary", { textContent: `Refused: ${items.length}` }),
      make("ol", {}, ...lines));
  }

  // --- the focus, which stays where it was when lines come and go

  focusedPress() {
    const { activeElement } = document;
    if (!this.root.contains(activeElement)) return null;
    const { press } = activeElement.dataset ?? {};
    if (!press) return null;
    const lines = [...this.root.querySelectorAll("li")];
    return { press, place: lines.indexOf(activeElement.closest("li")) };
  }

  focusAgain(focused) {
    if (!focused) return;
    const buttons = [...this.root.querySelectorAll("li button")];
    const pressOf = (button) => button.dataset.press;
    const same = buttons.find((button) => pressOf(button) === focused.press);
    // What was pressed is listed elsewhere then, maybe not before it is priced: where it was taken
    // it can be taken back, and the other way round.
    const moved = this.pressed && buttons.find((button) => pressOf(button).endsWith(this.pressed));
    const lines = [...this.root.querySelectorAll("li")];
    const near = lines[between(0, focused.place, lines.length - 1)];
    const next = moved || same || near?.querySelector("button") || this.sheet.cloth;
    next.focus({ preventScroll: true });
    if (!this.model.get("pricing")) this.pressed = "";
  }

  // --- the light

  light(item) {
    const { sheet } = this;
    sheet.lit = item;
    this.showFigures(item?.after ?? []);
    for (const line of this.root.querySelectorAll("li"))
      line.classList.toggle("lit", line.item === item);
    sheet.requestDraw();
  }

  hover(event) {
    const { sheet } = this;
    if (event.pointerType !== "mouse") return;
    const cell = sheet.cellUnder(event);
    const [best] = sheet.itemsAt(cell, true);
    sheet.cloth.classList.toggle("hit", best !== undefined);
    this.light(best === undefined ? this.pinned : this.model.get("items")[best]);
    this.tellPlace(cell);
  }

  /** Show first what is offered at a cell; or tell of a cell that was touched. */
  choose(cell) {
    const { sheet } = this;
    sheet.cursor = cell;
    if (this.model.get("touches")) {
      this.send("touch", String(cell[1] * sheet.columns + cell[0]));
      return;
    }
    const places = sheet.itemsAt(cell, true);
    this.spot = cell;
    this.pinned = places.length ? this.model.get("items")[places[0]] : null;
    this.showAll();
  }

  placeInWords([x, y]) {
    const times = this.model.get("times");
    const [first, last] = [y * times + 1, (y + 1) * times];
    const word = this.model.get("row_word");
    const rows = first === last ? `${word} ${first}` : `${word}s ${first} and ${last}`;
    return `${rows}, stitch ${this.sheet.columns - x}`;
  }

  /** Say what lies at a cell; without one at the cursor of the keys, or how to go on. */
  tellPlace(cell = null) {
    const { sheet } = this;
    const focused = document.activeElement === sheet.cloth;
    const at = cell ?? (focused ? sheet.cursor : this.spot);
    if (!at) {
      const isOffered = this.model.get("singly") && this.model.get("items").length;
      this.place.textContent = isOffered ? "Touch a spot to see first what is offered there." : "";
      return;
    }
    const yarn = sheet.yarns[sheet.cells[at[1] * sheet.columns + at[0]]];
    const places = sheet.itemsAt(at, true);
    const here = places.length ? counted(places.length, "offer") : "no offer";
    const name = yarn ? yarn.title : "no stitch";
    if (this.model.get("touches")) {
      this.place.textContent = `${this.placeInWords(at)} from the right: ${name}.`;
      return;
    }
    this.place.textContent = `${this.placeInWords(at)}: ${name}; ${here} here.`;
  }

  // --- the keys

  key(event) {
    const { sheet } = this;
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key in MOVES) {
      const [dx, dy] = MOVES[event.key];
      sheet.cursor = sheet.inside([sheet.cursor[0] + dx, sheet.cursor[1] + dy]);
      const [best] = sheet.itemsAt(sheet.cursor, true);
      this.light(best === undefined ? null : this.model.get("items")[best]);
      this.tellPlace();
    } else if (event.key === "Enter" || event.key === " ") {
      const places = sheet.itemsAt(sheet.cursor, true);
      this.choose(sheet.cursor);
      const goesThere = places.length && !this.model.get("touches");
      if (goesThere) this.list.querySelector("li button, li[tabindex]")?.focus();
    } else if (event.key === "Escape" && this.spot) {
      [this.spot, this.pinned] = [null, null];
      this.showAll();
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }

  // --- what is pressed

  send(act, key = "") {
    this.press += 1;
    this.pinned = null;
    this.pressed = (this.focusedPress()?.press ?? "").replace(/^[^:]*/, "");
    for (const button of this.root.querySelectorAll("li button"))
      button.setAttribute("aria-disabled", "true");
    this.model.send({ act, key, ground: this.ground.value, press: this.press });
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => {
      this.said.textContent = "Waiting for the answer; the kernel is busy, or has stopped.";
    }, OVERDUE);
  }

  answer() {
    clearTimeout(this.waiting);
    this.update();
  }
}

export default {
  render({ model, el }) {
    const board = new Board(model, el);
    const observer = new ResizeObserver(() => board.sheet.fit());
    observer.observe(el);
    board.showAll();
    return () => { observer.disconnect(); board.stop(); };
  },
};
