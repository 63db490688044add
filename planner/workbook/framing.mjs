// A picture with a frame on it: a rectangle around a part of it, or four corners that move freely.
//
// Corners are dragged by mouse or finger, or moved by the arrow keys; a rectangle may also be drawn
// anew, from one corner to the other. Python hears of it when a corner is let go. Near a corner that
// moves stands what lies under it, enlarged. Below the picture the same places stand as numbers.

const NAMES = ["top left", "top right", "bottom right", "bottom left"];
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const FAR = 10; // pixels with Shift
const LEAST = 0.01; // of the picture: the width and height of a rectangle
const DRAWN = 8; // pixels that a hand draws before it is a new frame
const LENS = 120; // pixels across what is enlarged
const ENLARGED = 3;
const CALM = 300; // milliseconds after the last key
const SVG = "http://www.w3.org/2000/svg";

const within = (share) => Math.max(0, Math.min(1, share));
const percent = (share) => `${(100 * share).toFixed(1)} %`;

/** Points with one of them moved; of a rectangle its neighbours move along. */
export function moved(points, which, x, y, isFree) {
  const after = points.map((point) => [...point]);
  const [next, opposite, before] = [1, 2, 3].map((step) => (which + step) % 4);
  after[which] = [within(x), within(y)];
  if (isFree) return after;
  // The corner that shares its column is the next one for top right and bottom left.
  const [column, row] = which % 2 ? [next, before] : [before, next];
  const [atX, atY] = points[opposite];
  const left = which === 0 || which === 3;
  const top = which < 2;
  const toX = left ? Math.min(within(x), atX - LEAST) : Math.max(within(x), atX + LEAST);
  const toY = top ? Math.min(within(y), atY - LEAST) : Math.max(within(y), atY + LEAST);
  after[which] = [toX, toY];
  after[column][0] = toX;
  after[row][1] = toY;
  return after;
}

/** The rectangle between two opposite corners. */
export function between([a, b], [c, d]) {
  const [left, right] = [within(Math.min(a, c)), within(Math.max(a, c))];
  const [top, bottom] = [within(Math.min(b, d)), within(Math.max(b, d))];
  return [[left, top], [right, top], [right, bottom], [left, bottom]];
}

/** The numbers that place a frame, by lines of a title and of numbers: what each is called, and
 * which corner (clockwise) it moves which way (0 across, 1 down). */
export function numbersOf(isFree) {
  if (isFree) {
    return NAMES.map((name, which) => [`${name} corner`, [
      ["from the left", which, 0], ["from the top", which, 1],
    ]]);
  }
  return [
    ["from the left", [["left edge", 0, 0], ["right edge", 2, 0]]],
    ["from the top", [["top edge", 0, 1], ["bottom edge", 2, 1]]],
  ];
}

function shape(name, look) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(look)) element.setAttribute(key, value);
  return element;
}

function make(tag, look, ...children) {
  const element = Object.assign(document.createElement(tag), look);
  element.append(...children);
  return element;
}

export default {
  render({ model, el }) {
    el.classList.add("plan-framing");
    const image = make("img", { draggable: false });
    const shade = shape("path", { "fill-rule": "evenodd", class: "plan-shade" });
    const edge = shape("polygon", { class: "plan-frame" });
    const inner = shape("polygon", { class: "plan-frame-inner" });
    const drawing = shape("svg", { viewBox: "0 0 1 1", preserveAspectRatio: "none" });
    drawing.append(shade, edge, inner);
    drawing.setAttribute("aria-hidden", "true");
    const handles = NAMES.map(() => make("button", { type: "button", className: "plan-corner" }));
    const lens = make("div", { className: "plan-lens", hidden: true });
    lens.setAttribute("aria-hidden", "true");
    const stage = make("div", { className: "plan-stage" }, image, drawing, ...handles, lens);
    const home = make("button", {
      type: "button", className: "jupyter-widgets jupyter-button widget-button",
    });
    const hint = make("p", { className: "plan-note" });
    let points = model.get("value");
    const boxes = [];
    const numbers = make("div", { className: "plan-frame-numbers" });
    numbers.append(make("p", { className: "plan-note", textContent: "Or by numbers, in percent:" }));
    for (const [title, line] of numbersOf(model.get("is_free"))) {
      const fields = line.map(([name, which, way]) => {
        const box = make("input", {
          type: "number", min: 0, max: 100, step: 0.05, className: "widget-input",
        });
        box.setAttribute("aria-label", `${title}, ${name}, in percent`);
        boxes.push({ box, which, way });
        return make("label", {}, name, box);
      });
      numbers.append(make("div", {}, make("span", { textContent: title }), ...fields));
    }
    el.append(hint, stage, home, numbers);
    // Or the arrow keys would be the notebook's, and Enter and Space would be, too.
    for (const field of [...handles, home, ...boxes.map(({ box }) => box)])
      field.dataset.lmSuppressShortcuts = "true";

    let address = "";
    let waiting = 0;

    const draw = () => {
      const corners = points.map(([x, y]) => `${x},${y}`).join(" ");
      edge.setAttribute("points", corners);
      inner.setAttribute("points", corners);
      shade.setAttribute("d", `M0,0 H1 V1 H0 Z M${points.map((p) => p.join(",")).join(" L")} Z`);
      points.forEach(([x, y], i) => {
        handles[i].style.left = `${100 * x}%`;
        handles[i].style.top = `${100 * y}%`;
        const where = `${percent(x)} from the left, ${percent(y)} from the top`;
        handles[i].setAttribute("aria-label", `${NAMES[i]} corner, ${where}`);
      });
      for (const { box, which, way } of boxes) box.value = (100 * points[which][way]).toFixed(2);
    };
    const enlarge = (i) => {
      const { width, height } = image.getBoundingClientRect();
      const [x, y] = [points[i][0] * width, points[i][1] * height];
      lens.hidden = false;
      lens.style.backgroundImage = `url("${address}")`;
      lens.style.backgroundSize = `${ENLARGED * width}px ${ENLARGED * height}px`;
      const half = LENS / 2;
      lens.style.backgroundPosition = `${half - ENLARGED * x}px ${half - ENLARGED * y}px`;
      // Towards the middle of the picture, where a hand does not hide it.
      const away = LENS * 0.75;
      lens.style.left = `${x + (x < width / 2 ? away : -away)}px`;
      lens.style.top = `${y + (y < height / 2 ? away : -away)}px`;
    };
    const tell = () => {
      clearTimeout(waiting);
      waiting = 0;
      if (JSON.stringify(points) === JSON.stringify(model.get("value"))) return;
      model.set("value", points);
      model.save_changes();
    };
    const shareAt = (event) => {
      const box = image.getBoundingClientRect();
      return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    };

    handles.forEach((handle, i) => {
      let off = null; // from the middle of the handle to where it is held
      handle.addEventListener("pointerdown", (event) => {
        event.stopPropagation();
        handle.setPointerCapture(event.pointerId);
        const [x, y] = shareAt(event);
        off = [points[i][0] - x, points[i][1] - y];
        enlarge(i);
      });
      handle.addEventListener("pointermove", (event) => {
        if (!off) return;
        const [x, y] = shareAt(event);
        points = moved(points, i, x + off[0], y + off[1], model.get("is_free"));
        draw();
        enlarge(i);
      });
      const letGo = () => {
        if (!off) return;
        off = null;
        lens.hidden = true;
        tell();
      };
      handle.addEventListener("pointerup", letGo);
      handle.addEventListener("pointercancel", letGo);
      handle.addEventListener("keydown", (event) => {
        const step = KEYS[event.key];
        if (!step) return;
        event.preventDefault();
        event.stopPropagation();
        const { width, height } = image.getBoundingClientRect();
        const far = event.shiftKey ? FAR : 1;
        const [x, y] = points[i];
        const [toX, toY] = [x + (far * step[0]) / width, y + (far * step[1]) / height];
        points = moved(points, i, toX, toY, model.get("is_free"));
        draw();
        enlarge(i);
        clearTimeout(waiting);
        waiting = setTimeout(tell, CALM);
      });
      handle.addEventListener("blur", () => {
        lens.hidden = true;
        if (waiting) tell();
      });
    });

    // A rectangle is drawn anew from where the hand is put down.
    let from = null;
    stage.addEventListener("pointerdown", (event) => {
      if (model.get("is_free") || event.button !== 0) return;
      event.preventDefault();
      stage.setPointerCapture(event.pointerId);
      from = { x: event.clientX, y: event.clientY, share: shareAt(event), before: points };
    });
    stage.addEventListener("pointermove", (event) => {
      if (!from) return;
      const far = Math.min(Math.abs(event.clientX - from.x), Math.abs(event.clientY - from.y));
      points = far < DRAWN ? from.before : between(from.share, shareAt(event));
      draw();
    });
    const drawnUp = () => {
      if (from) tell();
      from = null;
    };
    stage.addEventListener("pointerup", drawnUp);
    stage.addEventListener("pointercancel", drawnUp);

    for (const { box, which, way } of boxes) {
      box.addEventListener("change", () => {
        const to = [...points[which]];
        if (box.value !== "") to[way] = Number(box.value) / 100;
        points = moved(points, which, ...to, model.get("is_free"));
        draw();
        tell();
      });
      box.addEventListener("keydown", (event) => event.stopPropagation());
    }

    home.addEventListener("click", () => {
      points = model.get("home");
      draw();
      tell();
    });
    const follow = () => {
      points = model.get("value");
      hint.textContent = model.get("hint");
      home.textContent = model.get("home_label");
      stage.classList.toggle("plan-free", model.get("is_free"));
      stage.setAttribute("role", "group");
      stage.setAttribute("aria-label", model.get("description"));
      draw();
    };
    const picture = () => {
      if (address) URL.revokeObjectURL(address);
      address = URL.createObjectURL(new Blob([model.get("picture")]));
      image.src = address;
      image.alt = model.get("alt");
    };
    model.on("change:value", follow);
    model.on("change:picture", picture);
    picture();
    follow();
    return () => URL.revokeObjectURL(address);
  },
};
