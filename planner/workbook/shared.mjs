// What the chart to paint on and the chart with offers on it share: the elements of a page, the keys
// that move about on a chart, and how its cells, lines and numbers are drawn.

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

const bytesOf = (view) =>
  new Uint8Array(view.buffer ?? view, view.byteOffset ?? 0, view.byteLength);
const between = (least, value, most) => Math.max(least, Math.min(most, value));

function make(tag, properties = {}, ...children) {
  const { style = {}, ...rest } = properties;
  const element = Object.assign(document.createElement(tag), rest);
  Object.assign(element.style, style);
  element.append(...children);  // strings become text, never markup
  return element;
}

const pixelBytes = new Uint8Array(4);
const pixelWord = new Uint32Array(pixelBytes.buffer);

/** #rrggbb as an ImageData holds it, in this machine's order of bytes. */
function pixel(colour, alpha = 255) {
  pixelBytes.set([1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16)));
  pixelBytes[3] = alpha;
  return pixelWord[0];
}

/** Stroke lines of one look; `each` is given the function that draws one of them. */
function strokes(ctx, width, style, each, dash = []) {
  Object.assign(ctx, { lineWidth: width, strokeStyle: style });
  ctx.setLineDash(dash);
  ctx.beginPath();
  each((ax, ay, bx, by) => { ctx.moveTo(ax, ay); ctx.lineTo(bx, by); });
  ctx.stroke();
  ctx.setLineDash([]);
}

/** Every how manieth number stands where numbers are so far apart and need so much room. */
function pacing(apart, room) {
  return [1, 2, 5, 10, 20, 50, 100, 200].find((pace) => pace * apart >= room) ?? 500;
}
