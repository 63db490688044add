// Painting a chart at the gauge's true aspect, with pointer or keys. Everything happens here and at once, also while the
// kernel is busy; Python hears of every finished stroke. Cells lie as in planner.chart: row 0 is the bottom one, column 0
// the left; a byte is the yarn's place in the list, 255 no stitch. On the way to Python two bytes each of rows and columns
// go before them, so that shape and cells can never come apart.

const NO_STITCH = 255, MOST_STEPS = 300, MOST_ROWS = 2000, MOST_STITCHES = 1000;
const SIDE = 36, FOOT = 20, TALLEST = 640;  // pixels: rulers at the sides and below, the paper's height
const GREY = "#e4e4e4", INK = "#222222";

/** The cells of the straight line between two cells, both included (Bresenham 1965). */
export function line(x0, y0, x1, y1) {
  const across = Math.abs(x1 - x0), up = Math.abs(y1 - y0), steep = up > across;
  const [long, short] = steep ? [up, across] : [across, up];
  const [stepX, stepY] = [x1 > x0 ? 1 : -1, y1 > y0 ? 1 : -1];
  const cells = [];
  let x = x0, y = y0, owed = 2 * short - long;
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

/** Fill the area of one yarn around a cell, side by side and one above the other; rows below `from` stay. */
export function fill(cells, rows, columns, x, y, yarn, from = 0) {
  const old = cells[y * columns + x];
  if (old === yarn || y < from) return;
  const waiting = [[x, y]];
  while (waiting.length) {
    const [cx, cy] = waiting.pop(), row = cy * columns;
    if (cells[row + cx] !== old) continue;
    let lo = cx, hi = cx;
    while (lo > 0 && cells[row + lo - 1] === old) lo--;
    while (hi < columns - 1 && cells[row + hi + 1] === old) hi++;
    cells.fill(yarn, row + lo, row + hi + 1);
    for (const next of [cy - 1, cy + 1]) {
      if (next < from || next >= rows) continue;
      for (let i = lo; i <= hi; i++) if (cells[next * columns + i] === old) waiting.push([i, next]);
    }
  }
}

/** The cells with rows or stitches more (in `yarn`) or fewer at each side. */
export function reshape(cells, rows, columns, { top = 0, bottom = 0, left = 0, right = 0 }, yarn) {
  const newRows = rows + top + bottom, newColumns = columns + left + right;
  const out = new Uint8Array(newRows * newColumns).fill(yarn);
  for (let y = Math.max(0, -bottom); y < rows && y + bottom < newRows; y++)
    for (let x = Math.max(0, -left); x < columns && x + left < newColumns; x++)
      out[(y + bottom) * newColumns + x + left] = cells[y * columns + x];
  return { cells: out, rows: newRows, columns: newColumns };
}

const bytesOf = (view) => new Uint8Array(view.buffer ?? view, view.byteOffset ?? 0, view.byteLength);
const same = (a, b) => a.length === b.length && a.every((byte, i) => byte === b[i]);

/** What is painted, with its steps back and forward; one for each widget, however many views it has. */
class Painting {
  constructor(model) {
    Object.assign(this, { model, past: [], future: [], views: new Set(), yarn: 0 });
    this.unpack(bytesOf(model.get("grid")));
    model.on("change:grid", () => {
      const bytes = bytesOf(model.get("grid")).slice();
      if (same(bytes, this.packed())) return;
      this.remember(this.packed());  // a chart that was loaded can be undone like a stroke
      this.unpack(bytes);
      this.changed();
    });
    const traits = ["yarns", "aspect", "begins_right", "worked", "headline", "trouble", "kept", "answered", "strand_of"];
    for (const trait of traits) model.on(`change:${trait}`, () => this.changed());
  }

  unpack(bytes) {
    [this.rows, this.columns] = [bytes[0] * 256 + bytes[1], bytes[2] * 256 + bytes[3]];
    this.cells = bytes.slice(4);
  }

  packed() {
    const out = new Uint8Array(4 + this.cells.length);
    out.set([this.rows >> 8, this.rows & 255, this.columns >> 8, this.columns & 255]);
    out.set(this.cells, 4);
    return out;
  }

  remember(before) {
    this.past.push(before);
    if (this.past.length > MOST_STEPS) this.past.shift();
    this.future = [];
  }

  changed() { for (const view of this.views) view(); }

  send() {
    this.model.set("grid", new DataView(this.packed().buffer));
    this.model.set("stroke", this.model.get("stroke") + 1);
    this.model.save_changes();
    this.changed();
  }

  /** Do something to the cells as one step that can be undone. */
  step(act) {
    const before = this.packed();
    act();
    this.finish(before);
  }

  finish(before) {
    if (same(before, this.packed())) return;
    this.remember(before);
    this.send();
  }

  back(from, to) {
    if (!from.length) return;
    to.push(this.packed());
    this.unpack(from.pop());
    this.send();
  }
  undo() { this.back(this.past, this.future); }
  redo() { this.back(this.future, this.past); }

  get worked() { return this.model.get("worked"); }
  at(x, y) { return this.cells[y * this.columns + x]; }
  put(x, y, yarn) {
    if (x >= 0 && y >= this.worked && x < this.columns && y < this.rows) this.cells[y * this.columns + x] = yarn;
  }
  fill(x, y, yarn) { fill(this.cells, this.rows, this.columns, x, y, yarn, this.worked); }

  /** More or fewer rows or stitches at a side; what is wrong with that in words, or nothing. */
  reshape(side, count) {
    const upright = side === "top" || side === "bottom";
    const [rows, columns] = [this.rows + (upright ? count : 0), this.columns + (upright ? 0 : count)];
    if (!count) return "Say how many.";
    if (this.worked && side !== "top") return `Rows 1 to ${this.worked} are worked, so only rows at the top can come or go.`;
    if (rows < Math.max(1, this.worked)) return `There are ${this.rows} rows, ${this.worked} of them worked: fewer can go.`;
    if (columns < 1) return `There are ${this.columns} stitches in a row: fewer can go.`;
    if (rows > MOST_ROWS || columns > MOST_STITCHES)
      return `A chart to paint has at most ${MOST_ROWS} rows and ${MOST_STITCHES} stitches.`;
    this.step(() => Object.assign(this, reshape(this.cells, this.rows, this.columns, { [side]: count }, this.yarn)));
    return "";
  }
}

const paintings = new WeakMap();  // steps back outlive a view that is scrolled away or opened twice

function make(tag, properties = {}, ...children) {
  const { style = {}, ...rest } = properties;
  const element = Object.assign(document.createElement(tag), rest);
  Object.assign(element.style, style);
  element.append(...children);  // strings become text, never markup
  return element;
}

const STYLE = `
.painting { font: 13px/1.5 system-ui, sans-serif; outline: none }
.painting .line { display: flex; flex-wrap: wrap; gap: 6px; align-items: center; margin: 4px 0 }
.painting button { font: inherit; padding: 2px 9px; border: 1px solid #888; border-radius: 3px; background: #f4f4f4; color: #222 }
.painting button[aria-pressed=true] { background: #fff; border-color: #222; box-shadow: 0 0 0 2px #222 }
.painting button:disabled { opacity: .45 }
.painting .patch { display: inline-block; width: 14px; height: 14px; border: 1px solid #222; vertical-align: -2px; margin-right: 6px }
.painting .paper { position: relative; max-width: 100%; margin: 2px 0 }
.painting .paper canvas { position: absolute; left: 0; top: 0; pointer-events: none }
.painting .cloth { position: absolute; overflow: auto; touch-action: none; cursor: crosshair; outline-offset: -1px }
.painting .trouble { color: #a33000 }
.painting input[type=number] { width: 4.5em }
.painting summary { cursor: pointer }`;

const KEYS = [
  "Arrow keys move from stitch to stitch, Page Up and Page Down by ten rows, Home and End to the edges.",
  "A yarn's letter chooses it, a full stop chooses no stitch. Space or Enter puts it in; with Shift the arrow keys put it in as "
    + "they move. Delete takes a stitch out of the chart (no stitch).",
  "Ctrl + Enter fills the area of one yarn that you stand in. Ctrl + Z undoes, Ctrl + Y does again what was undone.",
  "+ and − draw the chart larger and smaller, 0 shows it whole. Tab leaves the chart.",
  "With the pointer, Shift draws a straight line from the stitch put in last. Two fingers move the chart.",
];

function render({ model, el }) {
  if (!paintings.has(model)) paintings.set(model, new Painting(model));
  const painting = paintings.get(model);
  const yarns = () => model.get("yarns");
  const yarnNamed = (i) => (i === NO_STITCH ? "no stitch" : yarns()[i].title);
  let cell = 0, cursor = [painting.columns - 1, painting.worked < painting.rows ? painting.worked : 0], last = null;
  let filling = false, typed = "", typedAt = 0, drawing = false, said = "";

  // --- what there is to see
  const chips = make("div", { className: "line", role: "group", ariaLabel: "Yarn to put in" });
  const button = (text, title, act) => make("button", { type: "button", textContent: text, title, onclick: act });
  const single = button("Stitch by stitch", "Put in single stitches and lines", () => { filling = false; update(); });
  const whole = button("Fill an area", "Fill the area of one yarn that you point at", () => { filling = true; update(); });
  const undo = button("Undo", "Ctrl + Z", () => painting.undo());
  const redo = button("Do again", "Ctrl + Y", () => painting.redo());
  const tools = make("div", { className: "line" }, single, whole, undo, redo,
    button("Larger", "+", () => zoom(1.3)), button("Smaller", "−", () => zoom(1 / 1.3)), button("Whole chart", "0", () => fit()));
  const strands = make("input", { type: "checkbox", onchange: () => {
    model.set("show_strands", strands.checked); model.save_changes(); update();
  } });
  tools.append(make("label", {}, strands, " show the strands"));
  const doWhat = make("select", { ariaLabel: "add or take away" }, new Option("Add", 1), new Option("Take away", -1));
  const howMany = make("input", { type: "number", min: 1, value: 1, ariaLabel: "how many" });
  const side = make("select", { ariaLabel: "where" }, new Option("rows at the top", "top"),
    new Option("rows at the bottom", "bottom"), new Option("stitches at the left", "left"), new Option("stitches at the right", "right"));
  const sizes = make("div", { className: "line" }, doWhat, howMany, side, button("Do it", "", () => {
    say(painting.reshape(side.value, Number(doWhat.value) * Math.max(0, Math.round(Number(howMany.value)))));
    if (!said) fit();
  }), " New ones are in the yarn chosen above.");
  const canvas = make("canvas"), spacer = make("div");
  const cloth = make("div", { className: "cloth", tabIndex: 0 }, spacer);
  cloth.setAttribute("role", "application");
  const paper = make("div", { className: "paper" }, canvas, cloth);
  const place = make("div", { role: "status" }), headline = make("div", { style: { whiteSpace: "pre-line", fontWeight: 600 } });
  const trouble = make("div", { className: "trouble", role: "alert" }), kept = make("span");
  const keep = button("Keep this piece", "Write the chart into chart.csv, with yarns and settings", () => model.send({ do: "keep" }));
  const root = make("div", { className: "painting" }, make("style", { textContent: STYLE }), chips, tools,
    make("details", {}, make("summary", { textContent: "More or fewer rows and stitches" }), sizes),
    paper, place, headline, trouble, make("div", { className: "line" }, keep, kept),
    make("details", {}, make("summary", { textContent: "Painting with the keyboard" }), ...KEYS.map((text) => make("div", { textContent: text }))));
  root.dataset.lmSuppressShortcuts = "true";  // JupyterLab leaves the keys to the painting
  el.append(root);

  function say(text) { said = text; update(); }

  function update() {
    const [rows, columns] = [painting.rows, painting.columns];
    cursor = [Math.min(cursor[0], columns - 1), Math.min(cursor[1], rows - 1)];
    if (painting.yarn !== NO_STITCH && painting.yarn >= yarns().length) painting.yarn = 0;
    chips.replaceChildren(...[...yarns().keys(), NO_STITCH].map((i) => {
      const patch = make("span", { className: "patch", style: { background: i === NO_STITCH ? GREY : yarns()[i].colour } });
      const chip = make("button", { type: "button", onclick: () => { painting.yarn = i; painting.changed(); } }, patch,
        i === NO_STITCH ? ". no stitch" : yarns()[i].title);
      chip.ariaPressed = String(painting.yarn === i);
      return chip;
    }));
    [single.ariaPressed, whole.ariaPressed] = [String(!filling), String(filling)];
    [undo.disabled, redo.disabled] = [!painting.past.length, !painting.future.length];
    strands.checked = model.get("show_strands");
    const behind = model.get("answered") < model.get("stroke");
    headline.textContent = model.get("headline") + (behind ? "\nPlanning what you painted …" : "");
    headline.dataset.stroke = model.get("answered");
    trouble.textContent = [said, model.get("trouble")].filter(Boolean).map((text) => `▲ ${text}`).join(" ");
    const safe = model.get("kept") && !behind;
    kept.textContent = safe ? "✓ What you see is kept in the piece's folder." : "▲ Not kept yet: what you changed is only in this notebook's memory.";
    keep.disabled = safe;
    tellPlace();
    layOut();
  }

  function tellPlace() {
    const [x, y] = cursor, stitch = painting.columns - x, yarn = painting.at(x, y);
    const edge = model.get("begins_right")[y % 2] ? "right" : "left";
    place.textContent = `Row ${y + 1}, which begins at the ${edge}; stitch ${stitch} from the right: ${yarnNamed(yarn)}.`
      + (y < painting.worked ? " This row is worked and stays as it is." : "") + ` Chosen: ${yarnNamed(painting.yarn)}.`;
    cloth.ariaLabel = `Chart of ${painting.columns} stitches and ${painting.rows} rows. ${place.textContent}`;
  }

  // --- sizes and places; one stitch is `cell` pixels wide
  const high = () => cell * model.get("aspect");
  const room = () => Math.max(120, (el.clientWidth || 900) - 2 * SIDE - 20);
  let fitted = false;  // an output that is not shown yet has no width to fit
  function fit() {
    fitted = el.clientWidth > 0;
    cell = Math.max(2, Math.min(26, room() / painting.columns, TALLEST / (painting.rows * model.get("aspect"))));
    layOut();
  }
  function zoom(times) {
    const middle = [(cloth.scrollLeft + cloth.clientWidth / 2) / cell, (cloth.scrollTop + cloth.clientHeight / 2) / cell];
    cell = Math.max(2, Math.min(60, cell * times));
    layOut();
    [cloth.scrollLeft, cloth.scrollTop] = [middle[0] * cell - cloth.clientWidth / 2, middle[1] * cell - cloth.clientHeight / 2];
  }
  function layOut() {
    const [wide, tall] = [painting.columns * cell, painting.rows * high()];
    const bar = wide > room() + 1 || tall > TALLEST + 1 ? 16 : 0;
    const [w, h] = [Math.min(wide, room()) + bar, Math.min(tall, TALLEST) + bar];
    Object.assign(spacer.style, { width: `${wide}px`, height: `${tall}px` });
    Object.assign(cloth.style, { left: `${SIDE}px`, top: "4px", width: `${w}px`, height: `${h}px` });
    Object.assign(paper.style, { width: `${w + 2 * SIDE}px`, height: `${h + FOOT + 4}px` });
    requestDraw();
  }
  function cellAt(event) {
    const box = cloth.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    return [Math.floor((x + cloth.scrollLeft) / cell), painting.rows - 1 - Math.floor((y + cloth.scrollTop) / high())];
  }
  function show([x, y]) {
    const [left, top] = [x * cell, (painting.rows - 1 - y) * high()];
    cloth.scrollLeft = Math.max(Math.min(cloth.scrollLeft, left), left + cell - cloth.clientWidth);
    cloth.scrollTop = Math.max(Math.min(cloth.scrollTop, top), top + high() - cloth.clientHeight);
  }

  // --- drawing: the cells as one small image, scaled without smoothing; lines and letters only where they are seen
  const small = document.createElement("canvas");
  function requestDraw() {
    if (drawing) return;
    drawing = true;
    requestAnimationFrame(() => { drawing = false; draw(); });
  }
  const rgba = new Uint8Array(4), whole32 = new Uint32Array(rgba.buffer);
  function pixel(colour) {  // #rrggbb as an ImageData holds it, in this machine's order of bytes
    rgba.set([1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16)));
    rgba[3] = 255;
    return whole32[0];
  }
  const NO_STRAND = 65535;

  function draw() {
    if (!el.isConnected) return;
    const { rows, columns, cells } = painting, h = high(), sharp = window.devicePixelRatio || 1;
    const [wide, tall] = [paper.clientWidth, paper.clientHeight];
    if (canvas.width !== Math.round(wide * sharp) || canvas.height !== Math.round(tall * sharp)) {
      [canvas.width, canvas.height] = [Math.round(wide * sharp), Math.round(tall * sharp)];
      Object.assign(canvas.style, { width: `${wide}px`, height: `${tall}px` });
    }
    const ctx = canvas.getContext("2d");
    ctx.setTransform(sharp, 0, 0, sharp, 0, 0);
    ctx.clearRect(0, 0, wide, tall);

    // The strand of a cell, unless it was painted since the strands were traced.
    const overlay = bytesOf(model.get("strand_of"));
    const of = new Uint16Array(overlay.slice().buffer), strandYarn = model.get("strand_yarn"), tints = model.get("tints");
    const shown = model.get("show_strands") && of.length === cells.length;
    const strandAt = (i) => (shown && of[i] !== NO_STRAND && strandYarn[of[i]] === cells[i] ? of[i] : NO_STRAND);
    [small.width, small.height] = [columns, rows];
    const image = new ImageData(columns, rows), pixels = new Uint32Array(image.data.buffer);
    const ofYarn = new Uint32Array(256).fill(pixel(GREY)), ofStrand = shown ? tints.map(pixel) : [];
    yarns().forEach((yarn, i) => { ofYarn[i] = pixel(yarn.colour); });
    for (let y = 0, i = 0; y < rows; y++) for (let x = 0, j = (rows - 1 - y) * columns; x < columns; x++, i++, j++) {
      const strand = strandAt(i);
      pixels[j] = strand === NO_STRAND ? ofYarn[cells[i]] : ofStrand[strand];
    }
    small.getContext("2d").putImageData(image, 0, 0);
    ctx.save();
    const [left, top] = [SIDE - cloth.scrollLeft, 4 - cloth.scrollTop];
    ctx.beginPath();
    ctx.rect(SIDE, 4, cloth.clientWidth, cloth.clientHeight);
    ctx.clip();
    ctx.imageSmoothingEnabled = false;
    ctx.drawImage(small, left, top, columns * cell, rows * h);

    const x0 = Math.max(0, Math.floor(cloth.scrollLeft / cell));
    const x1 = Math.min(columns - 1, Math.floor((cloth.scrollLeft + cloth.clientWidth) / cell));
    const y1 = Math.min(rows - 1, rows - 1 - Math.floor(cloth.scrollTop / h));
    const y0 = Math.max(0, rows - 1 - Math.floor((cloth.scrollTop + cloth.clientHeight) / h));
    const X = (x) => Math.round(left + x * cell), Y = (y) => Math.round(top + (rows - y) * h);  // left and lower edges
    const lines = (width, style, each) => {
      Object.assign(ctx, { lineWidth: width, strokeStyle: style });
      ctx.beginPath();
      each((ax, ay, bx, by) => { ctx.moveTo(ax, ay); ctx.lineTo(bx, by); });
      ctx.stroke();
    };
    const ruled = (every) => (stroke) => {
      for (let x = x0; x <= x1 + 1; x++) if ((columns - x) % every === 0) stroke(X(x) + 0.5, Y(y0), X(x) + 0.5, Y(y1 + 1));
      for (let y = y0; y <= y1 + 1; y++) if (y % every === 0) stroke(X(x0), Y(y) + 0.5, X(x1 + 1), Y(y) + 0.5);
    };
    if (cell >= 6 && h >= 5) lines(1, "#00000028", ruled(1));
    lines(1, "#00000060", ruled(10));
    const worth = (i) => (shown ? strandAt(i) * 256 + cells[i] : cells[i]);
    lines(cell < 5 ? 0.6 : shown ? 2 : 1.2, INK, (stroke) => {
      for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) {
        const i = y * columns + x;
        if (x < x1 && worth(i) !== worth(i + 1)) stroke(X(x + 1) + 0.5, Y(y), X(x + 1) + 0.5, Y(y + 1));
        if (y < y1 && worth(i) !== worth(i + columns)) stroke(X(x), Y(y + 1) + 0.5, X(x + 1), Y(y + 1) + 0.5);
      }
    });
    letters(ctx, { x0, x1, y0, y1, X, Y, h, strandAt, shown });
    if (painting.worked) {  // hatched: these rows are knitted
      ctx.fillStyle = "#ffffff66";
      ctx.fillRect(X(0), Y(painting.worked), columns * cell, painting.worked * h);
      lines(1, "#00000055", (stroke) => {
        const [low, up] = [Y(0), Y(painting.worked)];
        for (let x = X(0) - (low - up); x < X(columns); x += 12) stroke(x, low, x + low - up, up);
      });
    }
    const [cx, cy] = cursor;
    const mark = document.activeElement === cloth ? ["#ffffff", INK] : ["#ffffff00", "#22222288"];
    for (const [grow, style] of [[1.5, mark[0]], [0, mark[1]]]) {
      Object.assign(ctx, { lineWidth: 2, strokeStyle: style });
      ctx.strokeRect(X(cx) - grow, Y(cy + 1) - grow, X(cx + 1) - X(cx) + 2 * grow, Y(cy) - Y(cy + 1) + 2 * grow);
    }
    ctx.restore();
    rulers(ctx, { x0, x1, y0, y1, X, Y, h });
  }

  /** A letter at the middle of every run that has room for it; in the view of strands, the strand's label. */
  function letters(ctx, { x0, x1, y0, y1, X, Y, h, strandAt, shown }) {
    const { columns, cells } = painting, labels = model.get("strand_labels");
    const size = Math.max(8, Math.min(13, h * 0.85, cell * 1.3)), every = Math.max(1, Math.round(11 / h));
    Object.assign(ctx, { font: `${size}px system-ui, sans-serif`, textAlign: "center", textBaseline: "middle" });
    for (let y = y0; y <= y1; y++) {
      if (y % every !== every >> 1) continue;
      for (let x = x0, from = x0; x <= x1; x++) {
        const i = y * columns + x, strand = strandAt(i);
        if (x < x1 && cells[i + 1] === cells[i] && strandAt(i + 1) === strand) continue;
        const text = cells[i] === NO_STITCH ? "·" : shown && strand !== NO_STRAND ? labels[strand] : yarns()[cells[i]]?.letter ?? "";
        if ((x - from + 1) * cell >= size * (0.35 + 0.5 * text.length)) {
          ctx.fillStyle = cells[i] === NO_STITCH || strand !== NO_STRAND ? "#000000" : yarns()[cells[i]].ink;
          ctx.fillText(text, (X(from) + X(x + 1)) / 2, (Y(y) + Y(y + 1)) / 2 + 0.5);
        }
        from = x + 1;
      }
    }
  }

  /** Row numbers stand where the row begins; stitches are numbered from the right. */
  function rulers(ctx, { x0, x1, y0, y1, X, Y, h }) {
    const step = (size, least) => [1, 2, 5, 10, 20, 50, 100].find((s) => s * size >= least) ?? 200;
    Object.assign(ctx, { font: "10px system-ui, sans-serif", fillStyle: getComputedStyle(root).color, textBaseline: "middle" });
    const begins = model.get("begins_right"), pace = step(h, 10), both = begins[0] !== begins[1];
    for (let y = y0; y <= y1; y++) {
      const number = y + 1, pair = both && pace % 2 === 0 && (number + 1) % pace === 0;  // an even pace would show one side only
      if (number !== 1 && number % pace && !pair) continue;
      const middle = (Y(y) + Y(y + 1)) / 2;
      if (middle < 4 || middle > 4 + cloth.clientHeight) continue;
      ctx.textAlign = begins[y % 2] ? "left" : "right";
      const beside = begins[y % 2] ? Math.min(X(painting.columns), SIDE + cloth.clientWidth) + 4 : SIDE - 4;
      ctx.fillText(number, beside, middle);
    }
    Object.assign(ctx, { textAlign: "center", textBaseline: "top" });
    const gait = step(cell, 22), foot = Math.min(Y(0), 4 + cloth.clientHeight) + 4;
    for (let x = x0; x <= x1; x++) {
      const number = painting.columns - x, middle = (X(x) + X(x + 1)) / 2;
      if ((number === 1 || number % gait === 0) && middle >= SIDE && middle <= SIDE + cloth.clientWidth)
        ctx.fillText(number, middle, foot);
    }
  }

  // --- pointer: samples joined by lines, so that a quick stroke leaves no gap
  let before = null, at = null, fingers = new Map();
  cloth.addEventListener("pointerdown", (event) => {
    const box = cloth.getBoundingClientRect();
    if (event.clientX - box.left >= cloth.clientWidth || event.clientY - box.top >= cloth.clientHeight) return;  // a scroll bar
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size > 1) {  // a second finger: not a stroke but a move
      if (before) { painting.unpack(before); before = null; painting.changed(); }
      return;
    }
    if (event.button !== 0) return;
    event.preventDefault();
    cloth.focus({ preventScroll: true });
    cloth.setPointerCapture(event.pointerId);
    before = painting.packed();
    at = cursor = cellAt(event);
    said = "";
    if (at[1] < painting.worked) said = `Rows 1 to ${painting.worked} are worked and stay as they are.`;
    if (filling) painting.fill(...at, painting.yarn);
    else for (const [x, y] of event.shiftKey && last ? line(...last, ...at) : [at]) painting.put(x, y, painting.yarn);
    requestDraw();
  });
  cloth.addEventListener("pointermove", (event) => {
    if (fingers.size > 1 && fingers.has(event.pointerId)) {
      const [x, y] = fingers.get(event.pointerId);
      cloth.scrollLeft -= (event.clientX - x) / fingers.size;
      cloth.scrollTop -= (event.clientY - y) / fingers.size;
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      return;
    }
    if (!before || filling) return;
    const samples = event.getCoalescedEvents?.() ?? [];
    for (const sample of samples.length ? samples : [event]) {
      const to = cellAt(sample);
      for (const [x, y] of line(...at, ...to)) painting.put(x, y, painting.yarn);
      at = to;
    }
    cursor = [Math.max(0, Math.min(painting.columns - 1, at[0])), Math.max(0, Math.min(painting.rows - 1, at[1]))];
    requestDraw();
  });
  const lift = (event) => {
    fingers.delete(event.pointerId);
    if (!before) return;
    const was = before;
    [before, last] = [null, cursor];
    painting.finish(was);
    update();
  };
  cloth.addEventListener("pointerup", lift);
  cloth.addEventListener("pointercancel", lift);
  cloth.addEventListener("scroll", requestDraw);
  for (const kind of ["focus", "blur"]) cloth.addEventListener(kind, requestDraw);

  // --- keys
  function move(dx, dy, putting) {
    const to = [Math.max(0, Math.min(painting.columns - 1, cursor[0] + dx)), Math.max(0, Math.min(painting.rows - 1, cursor[1] + dy))];
    if (putting) painting.step(() => line(...cursor, ...to).forEach(([x, y]) => painting.put(x, y, painting.yarn)));
    cursor = to;
    show(to);
    tellPlace();
    requestDraw();
  }
  const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1], PageUp: [0, 10], PageDown: [0, -10],
    Home: [-9999, 0], End: [9999, 0] };
  cloth.addEventListener("keydown", (event) => {
    const key = event.key, control = event.ctrlKey || event.metaKey;
    const put = (yarn) => {
      said = cursor[1] < painting.worked ? `Rows 1 to ${painting.worked} are worked and stay as they are.` : "";
      painting.step(() => painting.put(...cursor, yarn));
      last = cursor;
      update();
    };
    if (key.length > 1) typed = "";
    if (control && key.toLowerCase() === "z") (event.shiftKey ? painting.redo() : painting.undo());
    else if (control && key.toLowerCase() === "y") painting.redo();
    else if (control && key === "Enter") painting.step(() => painting.fill(...cursor, painting.yarn));
    else if (control || event.altKey) return;
    else if (key in MOVES) move(...MOVES[key], event.shiftKey);
    else if (key === "Enter" || key === " ") put(painting.yarn);
    else if (key === "Delete" || key === "Backspace") put(NO_STITCH);
    else if (key === "+" || key === "=") zoom(1.3);
    else if (key === "-" || key === "−") zoom(1 / 1.3);
    else if (key === "0") fit();
    else if (key === ".") { painting.yarn = NO_STITCH; painting.changed(); }
    else if (/^\p{L}$/u.test(key)) choose(key);
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
  /** A yarn by its letter; letters typed in quick succession make one name of two or three. */
  function choose(key) {
    const now = Date.now(), fold = (text) => text.toLocaleLowerCase();
    typed = now - typedAt < 900 ? typed + key : key;
    typedAt = now;
    const names = yarns().map((yarn) => yarn.letter);
    const texts = [typed.slice(-3), typed.slice(-2), key];
    const found = texts.flatMap((text) => [names.indexOf(text), names.map(fold).indexOf(fold(text))]).find((i) => i >= 0);
    if (found === undefined) return;
    painting.yarn = found;
    painting.changed();
  }

  painting.views.add(update);
  const observer = new ResizeObserver(() => (fitted ? layOut() : fit()));
  observer.observe(el);
  fit();
  update();
  return () => { painting.views.delete(update); observer.disconnect(); };
}

export default { render };
