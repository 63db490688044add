// The geometry of painting: which cells a shape has, and what becomes of a grid of cells.
//
// Nothing here knows of yarns, of steps, or of the page. Row 0 is the bottom one, column 0 the left;
// a chart or a part of one is { rows, columns, cells }, its cells row by row.

const sameShape = (a, b) => a.rows === b.rows && a.columns === b.columns;
const same = (a, b) => sameShape(a, b) && a.cells.every((byte, i) => byte === b.cells[i]);

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

/** The block between two cells at its corners, whichever these are: its lowest cell, its size. */
export function block(x0, y0, x1, y1) {
  const [columns, rows] = [Math.abs(x1 - x0) + 1, Math.abs(y1 - y0) + 1];
  return { x: Math.min(x0, x1), y: Math.min(y0, y1), columns, rows };
}

/**
 * Fill the area of one yarn around a cell; rows below `from` stay.
 *
 * Cells belong together side by side and one above the other; on a tube the first and the last
 * column are side by side. Whole stretches of a row are filled at once, and what touches them above
 * and below, or round the tube, waits its turn.
 */
export function fill(cells, rows, columns, x, y, yarn, { from = 0, tube = false } = {}) {
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
    if (tube && lo === 0) waiting.push([columns - 1, cy]);
    if (tube && hi === columns - 1) waiting.push([0, cy]);
    for (const next of [cy - 1, cy + 1]) {
      if (next < from || next >= rows) continue;
      for (let i = lo; i <= hi; i++)
        if (cells[next * columns + i] === old) waiting.push([i, next]);
    }
  }
}

/** A chart with rows or stitches more, each like the one beside it, or fewer at each side. */
export function reshape(chart, { top = 0, bottom = 0, left = 0, right = 0 }) {
  const [rows, columns] = [chart.rows + top + bottom, chart.columns + left + right];
  const cells = new Uint8Array(rows * columns);
  for (let y = 0; y < rows; y++) {
    // The nearest old row, and below the nearest old column.
    const from = between(0, y - bottom, chart.rows - 1) * chart.columns;
    for (let x = 0; x < columns; x++)
      cells[y * columns + x] = chart.cells[from + between(0, x - left, chart.columns - 1)];
  }
  return { rows, columns, cells };
}

/** The part of a chart that a block covers. */
export function partOf(chart, { x, y, columns, rows }) {
  const cells = new Uint8Array(rows * columns);
  for (let up = 0; up < rows; up++) {
    const from = (y + up) * chart.columns + x;
    cells.set(chart.cells.subarray(from, from + columns), up * columns);
  }
  return { rows, columns, cells };
}

/** A part with left and right exchanged; or, `upsideDown`, its top and its bottom. */
export function mirrored({ rows, columns, cells }, { upsideDown = false } = {}) {
  const of = new Uint8Array(cells.length);
  cells.forEach((place, i) => {
    const [x, y] = [i % columns, Math.floor(i / columns)];
    const [toX, toY] = upsideDown ? [x, rows - 1 - y] : [columns - 1 - x, y];
    of[toY * columns + toX] = place;
  });
  return { rows, columns, cells: of };
}

/** The ground of a part: what stands most often along its rim, the lowest place first. */
export function groundOf({ rows, columns, cells }) {
  const counts = new Uint32Array(256);
  cells.forEach((place, i) => {
    const [x, y] = [i % columns, Math.floor(i / columns)];
    const isRim = x === 0 || y === 0 || x === columns - 1 || y === rows - 1;
    if (isRim) counts[place] += 1;
  });
  return counts.indexOf(Math.max(...counts));
}
