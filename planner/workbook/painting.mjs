// The chart to paint on: the paper with its tools, and what is said about it.
//
// Everything happens here and at once, also while the kernel is busy. A widget is one module that
// can import no other file, so that these are sent as one text, in this order:
//
// shared     what the chart with offers has as well: keys, elements, cells and lines
// geometry   which cells a shape has, and what becomes of a grid of cells
// steps      steps from one chart to another, and what of them the browser keeps
// painted    what is painted, its steps back and forward, and what Python is told
// paper      the chart as it is seen
// hand       the ways of putting stitches in, with pointer and keys
// painting   the tools beside the paper, and the words

// With more yarns than this the tools show their letters only; names are told when pointed at.
const MOST_NAMED = 9;
// From this width on, in pixels, the tools stand beside the paper, else above it.
const WIDE = 760;
const NARROW = 900;  // below it, the headline may take two lines

const STYLE = `
.painting { font: 13px/1.5 system-ui, sans-serif; outline: none }
.painting.wide {
  display: grid; gap: 0 14px;
  grid-template: "tools sheet" auto "words sheet" 1fr / 250px minmax(0, 1fr)
}
.painting .tools { grid-area: tools }
.painting .sheet { grid-area: sheet }
.painting .words { grid-area: words }
.painting .line { display: flex; flex-wrap: wrap; gap: 4px; align-items: center; margin: 0 0 8px }
.painting.wide .pairs { display: grid; grid-template-columns: 1fr 1fr }
.painting .more { gap: 0 16px }
.painting.wide .more > *, .painting .more > [open] { flex-basis: 100% }
.painting .yarns button {
  max-width: 100%; overflow: hidden; text-overflow: ellipsis; white-space: nowrap
}
.painting .another { margin: 0 0 8px }
.painting .another input:not([type=color], [size="3"]) { width: 7em }
.painting .another input[type=color] { width: 2.4em; padding: 1px }
.painting :is(button, select, input:not([type=checkbox])) {
  font: inherit; min-height: 28px; padding: 2px 8px; border: 1px solid var(--plan-edge, #848484);
  border-radius: 4px; background: var(--jp-layout-color1, #fff); color: inherit; text-align: left
}
.painting button[aria-pressed=true] {
  border-color: var(--plan-accent, #1f6291); box-shadow: inset 0 0 0 1.5px var(--plan-accent, #1f6291)
}
.painting button:hover:enabled { background: var(--jp-layout-color2, #eee) }
.painting button:disabled { opacity: .45 }
.painting :is(button, select, input, summary, .cloth):focus-visible {
  outline: 2px solid var(--plan-accent, #1f6291); outline-offset: 2px
}
.painting .patch {
  display: inline-block; width: 14px; height: 14px; border: 1px solid var(--plan-edge, #848484);
  vertical-align: -2px; margin-right: 6px
}
.painting .paper { position: relative; max-width: 100%; margin: 2px 0 }
.painting .paper canvas { position: absolute; left: 0; top: 0; pointer-events: none }
.painting .cloth { position: absolute; overflow: auto; touch-action: none; cursor: crosshair }
.painting .trouble { color: var(--plan-trouble, #c0481a) }
.painting .plan-headline { white-space: pre-line }
.painting.narrow .plan-headline { min-height: 2.6em }
.painting .hint { margin-bottom: 8px }
.painting.wide .hint { min-height: 3em }
/* Mirrored, what is said of a part is longer: what stands below it stays where it is. */
.painting.wide .hint.of-a-part { min-height: 4.6em }
.painting .another .said { min-height: 6em }
.painting .place { min-height: 1.5em }
.painting .kept { min-height: 1.5em }
.painting .offer { border-left: 4px solid var(--plan-trouble, #c0481a); padding: 4px 8px }
.painting [hidden] { display: none !important }
.painting input[type=number] { width: 4.5em }
.painting summary { cursor: pointer; padding: 2px 0 }`;

// Words for the sides at which rows and stitches come and go.
const SIDES = {
  top: "rows at the top",
  bottom: "rows at the bottom",
  left: "stitches at the left",
  right: "stitches at the right",
};

// How a part that is copied may be mirrored.
const MIRRORS = {
  across: {
    text: "Mirror left–right",
    title: "Exchange its left and its right",
    words: "left–right",
  },
  upright: {
    text: "Mirror up–down",
    title: "Exchange its top and its bottom",
    words: "up–down",
  },
};

class View {
  constructor(painting, el) {
    this.painting = painting;
    this.model = painting.model;
    this.el = el;
    this.shownYarns = "";
    this.offered = "";
    this.paper = new Paper(painting, () => (this.isWide ? 0 : this.tools.offsetHeight));
    this.hand = new Hand(painting, this.paper, () => this.update());
    el.append(this.build());
  }

  get isWide() { return (this.el.clientWidth || WIDE) >= WIDE; }

  // --- what there is to see

  build() {
    this.place = make("div", { className: "place", role: "status" });
    this.headline = make("div", { className: "plan-headline" });
    this.trouble = make("div", { className: "trouble", role: "alert" });
    this.kept = make("div", { className: "kept" });
    this.offer = make("div", { className: "line offer", role: "status" });
    this.tools = this.buildTools();
    this.root = make(
      "div",
      { className: "painting" },
      make("style", { textContent: STYLE }),
      this.tools,
      make("div", { className: "sheet" }, this.headline, this.offer, this.paper.element),
      // What comes and goes stands where it does not move the chart.
      make("div", { className: "words" }, this.trouble, this.place, this.kept),
    );
    this.root.dataset.lmSuppressShortcuts = "true";  // JupyterLab leaves the keys to the painting
    // What was refused is said until the next thing is done, whatever that is.
    for (const doing of ["pointerdown", "keydown"])
      this.root.addEventListener(doing, () => this.forgetSaid(), true);
    return this.root;
  }

  buildTools() {
    const group = (className, ariaLabel, ...children) =>
      make("div", { className: `line ${className}`, role: "group", ariaLabel }, ...children);
    this.chips = group("yarns", "Yarn to put in");
    this.another = this.buildYarn();
    this.hint = make("div", { className: "hint plan-note", role: "status" });
    this.size = summary("");
    return make(
      "div",
      { className: "tools" },
      // Above the yarns, so that it stays under the pointer as one more comes to them.
      this.another,
      this.chips,
      group("ways pairs", "Way of putting stitches in", ...this.buildWays()),
      this.hint,
      this.part = group("part pairs", "The part that is copied", ...this.buildPart()),
      group("pairs", "Steps", ...this.buildSteps()),
      group("", "How large it is shown", ...this.buildZoom()),
      make(
        "div",
        { className: "line more" },
        this.buildStrands(),
        make("details", {}, this.size, this.buildSizes()),
        make("details", {}, summary("By keyboard"), ...KEYS.map(paragraph)),
      ),
    );
  }

  /** One yarn more: its letter, its name, its colour. */
  buildYarn() {
    const letter = make("input", {
      maxLength: 3, size: 3, ariaLabel: "letter of the new yarn", title: "its letter on the chart",
    });
    const name = make("input", { ariaLabel: "name of the new yarn", placeholder: "name" });
    const colour = make("input", { ariaLabel: "colour of the new yarn", placeholder: "colour" });
    const picked = make("input", { type: "color", ariaLabel: "pick the colour of the new yarn" });
    // What is refused stands in the place of the note, so that nothing moves for it.
    const note = "A colour is a name such as navy, or a code such as #1f3a5f.";
    const said = make("div", { className: "said plan-note", role: "status", textContent: note });
    const say = (words, isTrouble = false) => {
      said.textContent = words || note;
      said.classList.toggle("trouble", isTrouble);
    };
    picked.addEventListener("change", () => { colour.value = picked.value; });
    const form = make("details", { className: "another" }, summary("Another yarn …"));
    const begin = () => {
      [letter.value, name.value, colour.value] = [this.painting.freeLetter(), "", ""];
    };
    form.addEventListener("toggle", () => { if (form.open) begin(); });
    const add = makeButton("Add it", "It goes into yarns.csv, and is chosen", () => {
      const yarn = { letter: letter.value, name: name.value, colour: colour.value };
      this.painting.addYarn(yarn, (refused) => {
        say(refused ? `▲ ${refused}` : `✓ ${yarn.letter} ${yarn.name} is added, and chosen.`,
          Boolean(refused));
        if (!refused) begin();
        this.layOut();
      });
    });
    form.append(make("div", { className: "line" }, letter, name, colour, picked, add), said);
    form.addEventListener("toggle", () => this.layOut());
    this.forgetYarnSaid = () => say("");
    return form;
  }

  buildWays() {
    const build = (way, i) => makeButton(way.title, `${i + 1}`, () => this.hand.choose(way));
    this.ways = WAYS.map(build);
    return this.ways;
  }

  buildPart() {
    const { hand } = this;
    const words = "Set down its motif only, and leave what is around it as it is";
    this.mirrors = Object.entries(MIRRORS).map(([how, { text, title }]) =>
      makeButton(text, title, () => hand.mirror(how)));
    this.bare = makeButton("Without ground", words, () => hand.bare());
    return [
      ...this.mirrors,
      this.bare,
      makeButton("Let go of it", "Esc", () => hand.escape()),
    ];
  }

  buildSteps() {
    const { hand } = this;
    this.undo = makeButton("Undo", "Ctrl + Z", () => hand.back());
    this.redo = makeButton("Do again", "Ctrl + Y", () => hand.forward());
    return [this.undo, this.redo];
  }

  buildZoom() {
    const { paper } = this;
    const larger = makeButton("Larger", "+", () => paper.zoom(ZOOM));
    const smaller = makeButton("Smaller", "−", () => paper.zoom(1 / ZOOM));
    return [larger, smaller, makeButton("Whole chart", "0", () => paper.fit())];
  }

  buildStrands() {
    const showStrands = () => {
      this.model.set("show_strands", this.strands.checked);
      this.model.save_changes();
      this.update();
    };
    this.strands = make("input", { type: "checkbox", onchange: showStrands });
    return make("label", {}, this.strands, " show the strands");
  }

  buildSizes() {
    const what = make(
      "select",
      { ariaLabel: "add or take away" },
      new Option("Add", 1),
      new Option("Take away", -1),
    );
    const count = make("input", { type: "number", min: 1, value: 1, ariaLabel: "how many" });
    const options = Object.entries(SIDES).map(([side, words]) => new Option(words, side));
    const side = make("select", { ariaLabel: "where" }, ...options);
    const doIt = makeButton("Do it", "", () => {
      const many = Math.max(0, Math.round(Number(count.value)));
      this.hand.said = this.painting.reshape(side.value, Number(what.value) * many);
      this.update();
    });
    const note = "New ones go on in the yarns beside them.";
    return make("div", { className: "line" }, what, count, side, doIt, note);
  }

  /** Show what is painted, what it comes to, and what is the matter. */
  update() {
    const { hand, painting, model } = this;
    const isThere = (place) => painting.yarns[place] && !painting.yarns[place].gone;
    if (painting.yarn !== NO_STITCH && !isThere(painting.yarn))
      painting.yarn = Math.max(0, [...painting.yarns.keys()].findIndex(isThere));
    hand.follow();
    this.updateTools();
    this.headline.textContent = model.get("headline");
    this.headline.dataset.stroke = model.get("answered");
    this.tellTrouble();
    this.kept.textContent = [this.keeping(), painting.remark].filter(Boolean).join(" · ");
    this.updateOffer();
    this.tellPlace();
    this.layOut();
  }

  forgetSaid() {
    this.forgetYarnSaid();
    this.hand.said = "";
    this.tellTrouble();
  }

  tellTrouble() {
    const { hand, model } = this;
    const troubles = [hand.said, model.get("trouble"), this.silence()].filter(Boolean);
    this.trouble.textContent = troubles.map((text) => `▲ ${text}`).join(" ");
  }

  layOut() {
    this.root.classList.toggle("wide", this.isWide);
    // Where the headline may take a second line, it has it, so that the chart stays where it is.
    this.root.classList.toggle("narrow", this.el.clientWidth < NARROW);
    this.paper.layOut();
  }

  updateTools() {
    const { hand, painting } = this;
    this.updateChips();
    WAYS.forEach((way, i) => { this.ways[i].ariaPressed = `${hand.way === way}`; });
    this.part.hidden = hand.way.name !== "part";
    for (const each of this.part.children) each.disabled = !hand.part;
    this.bare.ariaPressed = `${hand.isBare}`;
    Object.keys(MIRRORS).forEach((how, i) => {
      this.mirrors[i].ariaPressed = `${hand.turned.has(how)}`;
    });
    this.hint.textContent = this.hinted();
    this.hint.classList.toggle("of-a-part", !this.part.hidden);
    this.undo.disabled = !painting.past.length;
    this.redo.disabled = !painting.future.length;
    this.strands.checked = this.model.get("show_strands");
    this.size.textContent = `Size: ${sizeInWords(painting)}`;
  }

  /** What to do next, in the way of putting stitches in that is chosen. */
  hinted() {
    const { part, turned, way } = this.hand;
    const ways = Object.keys(MIRRORS).filter((how) => turned.has(how));
    const words = ways.map((how) => MIRRORS[how].words).join(" and ");
    const copied = words ? `mirrored ${words}` : "copied";
    if (part) return `${sizeInWords(part)}, ${copied}. Touch where it goes, as often as you like.`;
    const round = way.name === "area" && this.model.get("tube");
    return round ? `${way.hint} ${ROUND_THE_TUBE}` : way.hint;
  }

  /** What to say when the kernel does not answer; "" while it does. */
  silence() {
    const { gone, isSilent, piece, safe, waited } = this.painting;
    // Before the first stroke nobody knows whether the browser can keep it.
    const keeps = piece && (safe || waited < 0);
    if (gone && keeps)
      return "The program behind this page has stopped, so nothing is planned any more. This page "
        + "keeps what you paint. Wake it up at the top, and it is offered.";
    if (gone)
      return "The program behind this page has stopped, so what you paint now is not kept. Wake it "
        + "up at the top before you go on.";
    if (!isSilent) return "";
    const meanwhile = keeps ? " This page keeps what you paint until it answers." : "";
    return `The program behind this page does not answer: it is busy, or it has stopped.${meanwhile}`;
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
    const { chips, painting } = this;
    const offered = [...painting.yarns.keys()].filter((place) => !painting.yarns[place].gone);
    const places = [...offered, NO_STITCH];
    const yarns = JSON.stringify(painting.yarns);
    if (this.shownYarns !== yarns) {  // a button that is being pressed stays the same
      this.shownYarns = yarns;
      chips.classList.toggle("many", places.length > MOST_NAMED);
      chips.replaceChildren(...places.map((place) => this.buildChip(place)));
    }
    places.forEach((place, i) => { chips.children[i].ariaPressed = `${painting.yarn === place}`; });
  }

  buildChip(place) {
    const { chips, painting } = this;
    const none = place === NO_STITCH;
    const { letter, title, colour } = none
      ? { letter: NO_STITCH_LETTER, title: ". no stitch", colour: GREY }
      : painting.yarns[place];
    const patch = make("span", { className: "patch", style: { background: colour } });
    const text = chips.classList.contains("many") ? letter : title;
    const choose = () => painting.choose(place);
    const properties = { type: "button", title, ariaLabel: title, onclick: choose };
    return make("button", properties, patch, text);
  }

  tellPlace() {
    const { hand, painting, paper } = this;
    const [x, y] = paper.cursor;
    const edge = this.model.get("begins_right")[y % 2] ? "right" : "left";
    const row = `Row ${y + 1}, which begins at the ${edge}`;
    const stitch = `stitch ${painting.columns - x} from the right`;
    const yarn = painting.yarnNamed(painting.at(x, y));
    const worked = y < painting.worked ? " This row is worked and stays as it is." : "";
    const chosen = painting.yarnNamed(painting.yarn);
    const drawn = hand.from ? ` ${sizeInWords(block(...hand.from, ...hand.to))}.` : "";
    const words = `${row}; ${stitch}: ${yarn}.${worked} Chosen: ${chosen}.${drawn}`;
    this.place.textContent = words;
    const size = `Chart of ${painting.columns} stitches and ${painting.rows} rows.`;
    paper.cloth.ariaLabel = `${size} ${words}`;
  }
}

const counted = (many, one, more) => (many === 1 ? `1 ${one}` : `${many} ${more}`);

/** The size of a chart, a block or a part. */
function sizeInWords({ columns, rows }) {
  return `${counted(columns, "stitch", "stitches")} × ${counted(rows, "row", "rows")}`;
}

/** What is offered, in words. */
function inWords({ chart, stitches, lost }, painting) {
  const count = (many) => counted(many, "stitch", "stitches");
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
      const layOut = () => view.layOut();
      painting.views.add(update);
      const observer = new ResizeObserver(layOut);
      observer.observe(el);
      window.addEventListener("resize", layOut);
      view.update();
      return () => {
        painting.views.delete(update);
        observer.disconnect();
        window.removeEventListener("resize", layOut);
      };
    },
  };
};
