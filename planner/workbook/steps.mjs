// Steps from one chart to another, and what of them the browser keeps.
//
// A step is the shape of the chart it leads to, and runs of cells: [first, how many, letter]. It
// holds the cells that change; of a chart of another shape it holds all. It is kept in letters,
// since a yarn's place may be another one when the piece is opened again.

// Of the steps back, and of those forward: how many, and how long they are as text.
const MOST_STEPS = 200;
const MOST_TEXT = 500_000;
const MOST_CELLS = 4_000_000;

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
