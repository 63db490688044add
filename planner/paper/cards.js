// One card at a time: without this script the page is a list of all cards.
"use strict";
(() => {
  const byId = (id) => document.getElementById(id);
  const root = document.documentElement;
  const {key, due, rowWord} = document.body.dataset;
  const cards = [...document.querySelectorAll("article")];
  const runsOf = (card) => [...card.querySelectorAll("ol > li")];
  const end = cards.length - 1;

  // Two presses so near to each other are one, by a hand that holds yarn; a key that is held down
  // is one press too.
  const ONE_PRESS_MS = 350;
  const SIZES = [100, 125, 150, 175, 200]; // of the text, percent
  const ROOM_FOR_A_LETTER = 0.05; // of the strip

  const place = {card: 0, run: 0};
  let looks = {size: 100, look: ""};

  // What a browser will not keep, or gives back broken, is as if it had never been kept.
  const kept = (name) => {
    try {
      return JSON.parse(localStorage.getItem(name)) ?? {};
    } catch {
      return {};
    }
  };
  const keep = (name, what) => {
    try {
      localStorage.setItem(name, JSON.stringify(what));
    } catch {
      // The page works on; only a reload begins at the row that was due when it was made.
    }
  };

  // ---- words

  const text = (within, what) => within.querySelector(what)?.textContent ?? "";
  const inLetters = (run) => `${text(run, "b")} ${text(run, "em")}`;
  const inWords = (run) => {
    const steps = text(run, "u");
    const words = `${text(run, "b")} ${text(run, "bdi")} ${text(run, "em")}`;
    return steps ? `${words}: ${steps}` : words;
  };
  const sentences = (card, which) =>
    [...card.querySelectorAll(which)].map((each) => each.textContent.trim());

  const rowsWorked = () => Number(cards[place.card].dataset.worked);
  const doneWords = (card, isLast) => {
    if (card.id === "end") return "All done";
    if (!isLast) return "Run done";
    if (card.id === "cast-on") return "Cast-on done";
    if (card.id === "bind-off") return "Bind-off done";
    return `${rowWord[0].toUpperCase()}${rowWord.slice(1)} done`;
  };

  const sayAloud = (isNew) => {
    const card = cards[place.card];
    const runs = runsOf(card);
    const words = [];
    if (isNew) words.push(text(card, "h2"), ...sentences(card, ".before"));
    if (runs.length) {
      words.push(`Run ${place.run + 1} of ${runs.length}: ${inWords(runs[place.run])}`);
      if (place.run === runs.length - 1) words.push(...sentences(card, ".foot"));
    }
    byId("aloud").textContent = words.map((each) => each.replace(/[.\s]*$/, ".")).join(" ");
  };

  // ---- the strip: the row in work on the row below it, as on the chart

  const edgesOf = (card) => (card?.dataset.edges ?? "").split(" ").filter(Boolean).map(Number);

  const fill = (band, card, least, width, lettered) => {
    const edges = edgesOf(card);
    const runs = card ? runsOf(card) : [];
    band.replaceChildren(
      ...runs.map((run, number) => {
        const [from, to] = [edges[number], edges[number + 1]];
        const part = document.createElement("span");
        const patch = run.querySelector("i");
        const share = Math.abs(to - from) / width;
        part.className = patch.className;
        part.style.left = `${(100 * (Math.min(from, to) - least)) / width}%`;
        part.style.width = `${100 * share}%`;
        if (lettered && share > ROOM_FOR_A_LETTER) part.textContent = patch.textContent;
        return part;
      }),
    );
  };

  const drawStrip = () => {
    const card = cards[place.card];
    const below = card.id === "end" ? undefined : cards[place.card - 1];
    const both = [...edgesOf(card), ...edgesOf(below)];
    const least = Math.min(...both);
    const width = Math.max(...both) - least;
    fill(byId("working"), card, least, width, false);
    fill(byId("below"), below, least, width, true);
    byId("strip").hidden = !both.length;
    const name = below ? `Below: ${below.dataset.name}` : "";
    byId("below-name").textContent = name;
    const words = below ? runsOf(below).map(inLetters).join(", ") : "nothing";
    byId("strip").setAttribute("aria-label", `${name}, as it was worked: ${words}`);
  };

  const markStrip = () => {
    [...byId("working").children].forEach((part, number) => {
      part.classList.toggle("worked", number < place.run);
      part.classList.toggle("due", number === place.run);
    });
  };

  // ---- the card

  const showRun = () => {
    const card = cards[place.card];
    const runs = runsOf(card);
    runs.forEach((run, number) => {
      run.classList.toggle("worked", number < place.run);
      if (number === place.run) run.setAttribute("aria-current", "step");
      else run.removeAttribute("aria-current");
    });
    const isLast = place.run >= runs.length - 1;
    card.classList.toggle("last-run", isLast && runs.length > 0);
    byId("done").textContent = doneWords(card, isLast);
    byId("done").setAttribute("aria-disabled", String(card.id === "end"));
    byId("back").setAttribute("aria-disabled", String(place.card === 0 && place.run === 0));
    markStrip();
    // What is said at the end of a row is to be seen with its last run.
    if (isLast) card.lastElementChild.scrollIntoView({block: "nearest"});
    const run = runs[place.run];
    // In very large text a run may be higher than what is seen: then it is read from its beginning.
    const isHigh = run && run.offsetHeight > byId("cards").clientHeight / 2;
    run?.scrollIntoView({block: isHigh ? "start" : "nearest"});
  };

  const showWorked = () => {
    const worked = rowsWorked();
    const words = worked ? `Worked up to ${rowWord} ${worked}` : `No ${rowWord} is worked yet`;
    byId("worked").textContent = words;
    byId("to-type").textContent = worked
      ? `${words}: type ${worked} into notebook 4, and it takes up all rows to there.`
      : `${words}.`;
  };

  const show = (isNew) => {
    if (isNew) {
      cards.forEach((card, number) => card.classList.toggle("due", number === place.card));
      // The letter in its patch is in the strand's name too: it need not be said twice.
      for (const patch of cards[place.card].querySelectorAll("i"))
        patch.setAttribute("aria-hidden", "true");
      byId("cards").scrollTop = 0;
      drawStrip();
      showWorked();
    }
    showRun();
    sayAloud(isNew);
    keep(key, {...place, due});
  };

  const goTo = (card, run) => {
    const isNew = card !== place.card;
    place.card = card;
    place.run = run;
    show(isNew);
  };

  const forward = () => {
    if (place.run < runsOf(cards[place.card]).length - 1) goTo(place.card, place.run + 1);
    else if (place.card < end) goTo(place.card + 1, 0);
  };
  const backward = () => {
    if (place.run) goTo(place.card, place.run - 1);
    else if (place.card) {
      const runs = runsOf(cards[place.card - 1]);
      goTo(place.card - 1, Math.max(0, runs.length - 1));
    }
  };

  let pressed = -Infinity;
  const onPress = (button, act) =>
    button.addEventListener("click", (event) => {
      const isOne = event.timeStamp - pressed < ONE_PRESS_MS;
      pressed = event.timeStamp;
      if (!isOne) act();
      stayAwake();
    });

  // ---- the screen

  let lock;
  const stayAwake = async () => {
    if (document.visibilityState !== "visible" || (lock && !lock.released)) return;
    try {
      lock = await navigator.wakeLock.request("screen");
    } catch {
      // Not every browser can, and none must.
    }
  };

  const dress = () => {
    root.style.fontSize = `${looks.size}%`;
    if (looks.look) root.dataset.look = looks.look;
    else delete root.dataset.look;
    byId("size").textContent = `${looks.size} %`;
    byId("look").value = looks.look;
    byId("smaller").setAttribute("aria-disabled", String(looks.size === SIZES[0]));
    byId("larger").setAttribute("aria-disabled", String(looks.size === SIZES.at(-1)));
    keep("cards-page-looks", looks);
    if (root.classList.contains("one")) showRun();
  };
  const resize = (steps) => {
    const number = SIZES.indexOf(looks.size) + steps;
    looks.size = SIZES[Math.min(Math.max(number, 0), SIZES.length - 1)];
    dress();
  };

  const closePanel = (focused) => {
    byId("more").open = false;
    focused?.focus({preventScroll: true});
  };

  const begin = () => {
    onPress(byId("done"), forward);
    onPress(byId("back"), backward);
    byId("smaller").addEventListener("click", () => resize(-1));
    byId("larger").addEventListener("click", () => resize(1));
    byId("look").addEventListener("change", (event) => {
      looks.look = event.target.value;
      dress();
    });
    byId("go").addEventListener("submit", (event) => {
      event.preventDefault();
      const wanted = byId("go-to").value;
      const card = cards.findIndex((each) => each.dataset.row === wanted);
      if (card < 0) return;
      closePanel(byId("done"));
      goTo(card, 0);
    });
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && byId("more").open) closePanel(byId("more").firstElementChild);
    });
    document.addEventListener("pointerdown", (event) => {
      if (!byId("more").contains(event.target)) closePanel();
    });
    document.addEventListener("visibilitychange", stayAwake);

    const {size, look} = kept("cards-page-looks");
    if (SIZES.includes(size)) looks.size = size;
    if (["light", "dark"].includes(look)) looks.look = look;
    dress();

    // Where the log has gone on since, it knows better than the browser.
    const before = kept(key);
    const isHere = before.due === due && before.card in cards;
    place.card = isHere ? before.card : cards.findIndex((card) => card.id === due);
    const runs = runsOf(cards[place.card]).length;
    place.run = isHere && before.run > 0 && before.run < runs ? before.run : 0;
    root.classList.add("one");
    byId("cards").tabIndex = 0;
    show(true);
    byId("done").focus({preventScroll: true});
    stayAwake();
  };
  begin();
})();
