// The hand: the ways of putting stitches in, with the pointer and with the keys.
//
// A line, a block and a part to copy go from one stitch to another: with the pointer from where it
// is pressed to where it is let go, with the keys from one Enter to the next. What is about to be
// done is seen on the paper before it is done.

const WAYS = [
  { name: "stitches", title: "Stitch by stitch", hint: "Touch stitches, or draw over them." },
  { name: "line", title: "Straight line", hint: "Draw from one end of the line to the other." },
  { name: "block", title: "Block", hint: "Draw from one corner of the block to the other." },
  { name: "area", title: "Whole area", hint: "Touch an area of one yarn: all of it changes." },
  { name: "part", title: "Copy a part", hint: "Draw over the part, from corner to corner." },
];
const ROUND_THE_TUBE = "An area goes on round the tube.";
const TYPED_TOGETHER = 900;  // milliseconds in which letters make one name

const KEYS = [
  "Arrow keys move from stitch to stitch, Page Up and Page Down by ten rows, Home and End to the "
    + "edges. Tab leaves the chart.",
  "A yarn's letter chooses it, a full stop chooses no stitch; 1 to 5 choose the way.",
  "Space or Enter puts it in. A line, a block or a part begins with one Enter and ends with the "
    + "next; Escape gives it up.",
  "With Shift the arrow keys put stitches in as they move, or begin a line, a block or a part.",
  "A part that is copied moves with the arrow keys. Enter sets it down, Escape lets it go.",
  "Delete takes a stitch out of the chart (no stitch). Ctrl + Z undoes, Ctrl + Y does again what "
    + "was undone.",
  "+ and − draw the chart larger and smaller, 0 shows it whole. Two fingers move it.",
];

class Hand {
  /** `tell` is called when something is to be seen anew. */
  constructor(painting, paper, tell) {
    this.painting = painting;
    this.paper = paper;
    this.tell = tell;
    this.isBare = false;  // whether a part is set down without its ground
    this.isShown = true;  // whether the part that is held is seen where it would come
    this.said = "";
    this.typed = "";
    this.typedAt = 0;
    this.letGo();
    this.way = WAYS[0];
    this.takeUpWay();
    this.sitting = painting.sitting;  // the piece that is painted
    this.at = null;  // where the stroke is that is being made
    this.fingers = new Map();
    const { cloth } = paper;
    cloth.addEventListener("pointerdown", (event) => this.press(event));
    cloth.addEventListener("pointermove", (event) => this.drag(event));
    cloth.addEventListener("pointerup", (event) => this.lift(event));
    cloth.addEventListener("pointercancel", (event) => this.lift(event));
    cloth.addEventListener("keydown", (event) => this.key(event));
  }

  // --- the way of putting stitches in, and what is held meanwhile

  choose(way) {
    this.way = way;
    this.letGo();
    this.painting.keepTools({ way: way.name });
    this.tell();
  }

  /** Take up the way that was chosen last in this piece. */
  takeUpWay() {
    const { way } = this.painting.keptTools();
    this.way = WAYS.find((each) => each.name === way) ?? this.way;
  }

  /** Give up what is begun, and let go of the part that was copied. */
  letGo() {
    this.from = this.to = null;  // where the line, block or part begins and ends
    this.part = this.spot = null;  // the part that was copied, and its lower left stitch
    this.turned = new Set();  // how it was mirrored: "across", "upright"
  }

  mirror(how) {
    this.part = mirrored(this.part, { upsideDown: how === "upright" });
    if (!this.turned.delete(how)) this.turned.add(how);
    this.isShown = true;
    this.tell();
  }

  /** A step back or forward shows the chart as it is then; the part is seen when it is moved. */
  back() { this.step(() => this.painting.undo()); }
  forward() { this.step(() => this.painting.redo()); }

  step(go) {
    this.isShown = false;
    go();
    this.tell();
  }

  bare() {
    this.isBare = !this.isBare;
    this.tell();
  }

  /** Keep inside the chart, which may be another one by now, and show what is about to be done. */
  follow() {
    const { painting, paper } = this;
    if (this.sitting !== painting.sitting) {
      this.sitting = painting.sitting;
      this.letGo();
      this.takeUpWay();
      paper.begin();
    }
    paper.cursor = paper.inside(paper.cursor);
    if (this.from) [this.from, this.to] = [paper.inside(this.from), paper.inside(this.to)];
    if (this.part) this.carryTo(this.spot);
    const isHeld = this.part && this.isShown;
    const isDrawn = isHeld || (this.from && this.way.name !== "part");
    paper.about = isDrawn ? () => this.putIn() : null;
    paper.frame = this.framed();
    paper.requestDraw();
  }

  /** The block of stitches that is held or being drawn, if it is one. */
  framed() {
    if (this.part && !this.isShown) return null;
    if (this.part) {
      const [x, y] = this.spot;
      return { x, y, columns: this.part.columns, rows: this.part.rows };
    }
    return this.from && this.way.name !== "line" ? block(...this.from, ...this.to) : null;
  }

  /** Hold the part with its lower left stitch here, or as near as the chart has room. */
  carryTo([x, y]) {
    const { painting, part } = this;
    const [rightmost, topmost] = [painting.columns - part.columns, painting.rows - part.rows];
    this.spot = [between(0, x, Math.max(0, rightmost)), between(0, y, Math.max(0, topmost))];
  }

  /** Hold the part with its middle here. */
  carryMiddleTo([x, y]) {
    const { columns, rows } = this.part;
    this.isShown = true;
    this.carryTo([x - (columns >> 1), y - (rows >> 1)]);
    this.paper.cursor = this.paper.inside([x, y]);
    this.follow();
  }

  /** Put the part, the line or the block that is about to be put into the cells. */
  putIn() {
    const { painting, from, to, part, spot } = this;
    if (part) painting.setDown(part, spot, this.isBare ? groundOf(part) : null);
    else if (this.way.name === "line") painting.putLine(from, to);
    else painting.putBlock(from, to);
  }

  begin(cell) {
    this.from = this.to = this.paper.inside(cell);
    this.said = "";
    this.tell();
  }

  finish() {
    const { painting, from, to } = this;
    if (this.way.name === "part" && !this.part) {
      const taken = block(...from, ...to);
      [this.part, this.spot] = [partOf(painting, taken), [taken.x, taken.y]];
      this.isShown = true;
    } else {
      this.said = this.refusal(this.part ? this.spot : [0, Math.min(from[1], to[1])]);
      painting.step(() => this.putIn());
    }
    this.from = this.to = null;
    this.tell();
  }

  /** What to say about a cell that cannot be painted; "" about another one. */
  refusal([, y]) {
    const { worked } = this.painting;
    return y < worked ? `Rows 1 to ${worked} are worked and stay as they are.` : "";
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
      this.at = this.from = this.to = null;
      this.follow();
      return;
    }
    if (event.button !== 0) return;
    event.preventDefault();
    cloth.focus({ preventScroll: true });
    cloth.setPointerCapture(event.pointerId);
    this.start(paper.cellAt(event));
    paper.requestDraw();
  }

  start(cell) {
    const { painting, paper } = this;
    this.at = cell;
    paper.cursor = paper.inside(cell);
    if (this.part) {
      this.carryMiddleTo(cell);
    } else if (this.way.name === "stitches" || this.way.name === "area") {
      painting.begin();
      this.said = this.refusal(cell);
      if (this.way.name === "area") painting.fill(...paper.cursor);
      else painting.putLine(cell, cell);
    } else {
      this.begin(cell);
    }
  }

  drag(event) {
    const { painting, paper, fingers } = this;
    if (fingers.size > 1 && fingers.has(event.pointerId)) {
      this.scroll(event);
      return;
    }
    const cell = paper.cellAt(event);
    // The copy is seen where it would come, whether or not the pointer is pressed.
    if (this.part) {
      this.carryMiddleTo(cell);
    } else if (this.at && this.from) {
      paper.cursor = this.to = paper.inside(cell);
      this.tell();
    } else if (painting.begun && this.way.name === "stitches") {
      this.draw(event);
    }
  }

  draw(event) {
    const { painting, paper } = this;
    // Between two frames the pointer may have been in several places.
    const samples = event.getCoalescedEvents?.() ?? [];
    for (const sample of samples.length ? samples : [event]) {
      const to = paper.cellAt(sample);
      painting.putLine(this.at, to);
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
    const { painting } = this;
    this.fingers.delete(event.pointerId);
    const pressed = this.at !== null;
    this.at = null;
    if (painting.begun) painting.end();
    else if (pressed && (this.part || this.from)) this.finish();
    this.tell();
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
    const key = event.key.toLowerCase();
    if (key === "z") (event.shiftKey ? this.forward() : this.back());
    else if (key === "y") this.forward();
    else return false;
    return true;
  }

  plainKey(event) {
    const { painting, paper } = this;
    const { key } = event;
    if (key in MOVES) this.move(MOVES[key], event.shiftKey);
    else if (key === "Enter" || key === " ") this.enter();
    else if (key === "Escape" && (this.from || this.part)) this.escape();
    else if (key === "Delete" || key === "Backspace") this.putHere(NO_STITCH);
    else if (key === "+" || key === "=") paper.zoom(ZOOM);
    else if (key === "-" || key === "−") paper.zoom(1 / ZOOM);
    else if (key === "0") paper.fit();
    else if (WAYS[Number(key) - 1]) this.choose(WAYS[Number(key) - 1]);
    else if (key === ".") painting.choose(NO_STITCH);
    else if (/^\p{L}$/u.test(key)) this.chooseByLetter(key);
    else return false;
    return true;
  }

  move([dx, dy], withShift) {
    const { painting, paper } = this;
    if (this.part) {
      this.isShown = true;
      this.carryTo([this.spot[0] + dx, this.spot[1] + dy]);
      paper.cursor = this.spot;
    } else {
      const from = paper.cursor;
      const to = paper.cursor = paper.inside([from[0] + dx, from[1] + dy]);
      const putsStitches = this.way.name === "stitches";
      if (withShift && putsStitches) painting.step(() => painting.putLine(from, to));
      if (withShift && !putsStitches && this.way.name !== "area") this.from ??= from;
      if (this.from) this.to = to;
    }
    paper.show(paper.cursor);
    this.tell();
  }

  enter() {
    const { painting, paper } = this;
    if (this.part && !this.isShown) this.move([0, 0], false);  // what is not seen is not set down
    else if (this.part || this.from) this.finish();
    else if (this.way.name === "stitches") this.putHere(painting.yarn);
    else if (this.way.name !== "area") this.begin(paper.cursor);
    else this.do((cell) => painting.fill(...cell));
  }

  putHere(yarn) { this.do((cell) => this.painting.put(...cell, yarn)); }

  /** Do something to the cell where work stands. */
  do(act) {
    const { painting, paper } = this;
    this.said = this.refusal(paper.cursor);
    painting.step(() => act(paper.cursor));
    this.tell();
  }

  escape() {
    this.letGo();
    this.tell();
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
